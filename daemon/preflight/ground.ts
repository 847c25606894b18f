import { existsSync } from 'node:fs';
import { mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import type { Clock } from '../../drivers/interfaces/index.ts';
import { parseInstrument, parseRunSheet } from '../config/load.ts';
import { createSystemSurroundings } from '../doctor/systemSurroundings.ts';
import { sentenceFor } from '../errors/index.ts';
import { diskFreeBytes } from '../records/diskSpace.ts';
import { databaseFile } from '../records/layout.ts';
import { openRecords } from '../records/open.ts';
import type { RecordsStore, RunRecord } from '../records/types.ts';
import { writeDurably } from '../records/writeDurably.ts';
import { unfinishedNight } from '../run/openNight.ts';
import type { Ground, RecordsFacts, WriteTrial } from './check.ts';

const TRIAL_BYTES = 4_000_000;
/** Nights before this one whose light is looked at. */
const NIGHTS_BEFORE = 3;

/** The computer and the data folder; the folder is made when it is not there. @param open the records, where they are held open already */
export function systemGround(directory: string, clock: Clock, open?: RecordsStore): Ground {
  return {
    surroundings: createSystemSurroundings(clock),
    directory,
    freeBytes: () => diskFreeBytes(directory),
    tryWriting: () => tryWriting(directory, clock),
    records: () => (open ? factsOf(open) : readFacts(directory)),
  };
}

async function tryWriting(directory: string, clock: Clock): Promise<WriteTrial> {
  const file = join(directory, 'preflight.trial');
  await mkdir(directory, { recursive: true });
  const begunMs = clock.now();
  try {
    await writeDurably(file, new Uint8Array(TRIAL_BYTES).map((_, i) => (i * 2_654_435_761) >>> 13));
    return { bytes: TRIAL_BYTES, ms: clock.now() - begunMs };
  } finally {
    await rm(file, { force: true });
  }
}

function readFacts(directory: string): RecordsFacts {
  if (!existsSync(join(directory, databaseFile))) return { problems: [], lampBefore: [] };
  try {
    const records = openRecords(directory, { readOnly: true });
    try {
      return factsOf(records);
    } finally {
      records.close();
    }
  } catch (error) {
    return { trouble: sentenceFor(error).sentence, problems: [], lampBefore: [] };
  }
}

function factsOf(records: RecordsStore): RecordsFacts {
  const unfinished = unfinishedNight(records)?.title;
  const latest = records.runIds().slice(-NIGHTS_BEFORE).reverse();
  return {
    problems: records.examine().problems.map(({ where, what }) => `${where}: ${what}`),
    ...(unfinished === undefined ? {} : { unfinished }),
    lampBefore: latest.flatMap((id) => {
      const run = records.run(id);
      return run ? lampOf(run) : [];
    }),
  };
}

/** What a night was lit with; nothing where its files are of an older kind. */
function lampOf({ runSheetText, instrumentText }: RunRecord): RecordsFacts['lampBefore'] {
  try {
    const { opticalPath } = parseRunSheet(runSheetText, 'run sheet');
    const path = parseInstrument(instrumentText, 'instrument').opticalPaths[opticalPath];
    return path ? [{ path: opticalPath, intensity: path.lampIntensity }] : [];
  } catch {
    return [];
  }
}
