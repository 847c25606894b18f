import { commandLine } from './doors/commandLine.ts';
import { configuration } from './doors/configuration.ts';
import { describedReplies } from './doors/describedReplies.ts';
import { descriptions } from './doors/descriptions.ts';
import { frameSets } from './doors/frameSets.ts';
import { gcodeReplies } from './doors/gcodeReplies.ts';
import { genicamAnswers } from './doors/genicamAnswers.ts';
import { messagesFromPages } from './doors/messages.ts';
import { rawVideo } from './doors/rawVideo.ts';
import { records } from './doors/records.ts';
import { requestPaths } from './doors/requestPaths.ts';
import { restMemories } from './doors/restMemory.ts';
import { tables } from './doors/tables.ts';
import type { Door } from './law.ts';

/** Every way in from outside. */
export const doors: readonly Door[] = [
  configuration, descriptions, tables, frameSets, records, restMemories, commandLine, messagesFromPages, requestPaths, gcodeReplies, describedReplies, rawVideo, genicamAnswers,
];
