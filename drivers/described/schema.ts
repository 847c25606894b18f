import { z } from 'zod';
import { parts } from './schemaParts.ts';
import { ms, patterns, step } from './schemaSteps.ts';

const name = z.string().min(1).max(60);
const terminator = z.string().min(1).max(20);

const line = z
  .strictObject({
    terminator: terminator.describe('ends what is sent, such as <CR> or <CR><LF>').default('<CR>'),
    replyTerminator: terminator.describe('ends what comes back; the same when left out').optional(),
    encoding: z.literal('ascii').describe('only ascii is known').default('ascii'),
    echo: z.boolean().describe('the device repeats each command before it answers').default(false),
    delayMs: ms('pause between an answer and the next command').default(0),
    settleMs: ms('wait after opening the line, for boards that start anew then').default(0),
    replyWithinMs: z.number().min(1).max(600_000).describe('patience for an answer').default(1000),
    retries: z.number().int().min(0).max(5).describe('how often a question or an absolute command is repeated; nothing else ever is').default(2),
    maxReplyCharacters: z.number().int().min(8).max(4096).describe('a longer line is no answer').default(256),
  })
  .describe('how both ends speak')
  .prefault({});

const unsolicited = z.strictObject({
  line: z.string().min(1).max(200).describe('what the device says without being asked'),
  means: z.enum(['ignored', 'error', 'positionLost', 'restarted']).describe('what this means; restarted: the position is lost, and the opening is due again'),
});

/** Asked after each command that is not answered, as SCPI devices want it. */
const errorQuery = z
  .strictObject({
    send: step.shape.send,
    good: z.array(z.string().min(1).max(200)).min(1).max(20).describe('answers when there was no error'),
    bad: z.array(z.string().min(1).max(200)).min(1).max(20).describe('answers that name an error, with {code} and {text}'),
  })
  .describe('asked after each command that has no answer of its own');

/** A description of a controller that is spoken to in lines of ASCII: the one schema of `daemon/demo/devices/*.yaml`. */
export const descriptionSchema = z.strictObject({
  maker: name.describe('who made it'),
  model: name.describe('which one it is'),
  notes: z.string().max(2000).describe('for people').optional(),
  line,
  identify: step.describe('asked first of all: another answer means another device'),
  opening: z.array(step).max(20).describe('sent once after that').default([]),
  closing: z.array(step).max(20).describe('sent before the line is closed, such as lamp off').default([]),
  errors: patterns('what comes back when the device refuses a command, with {code} and {text}').default([]),
  errorQuery: errorQuery.optional(),
  unsolicited: z.array(unsolicited).max(20).describe('what comes unasked').default([]),
  ...parts,
});

export type Description = z.infer<typeof descriptionSchema>;
export type PartName = keyof typeof parts;
export const partNames = ['stage', 'focus', 'turret', 'filterWheel', 'lamp', 'shutter', 'fieldStop'] as const satisfies readonly PartName[];
