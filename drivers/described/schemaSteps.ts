import { z } from 'zod';

const LONGEST_WAIT_MS = 600_000;

const words = z.string().min(1).max(200);
export const ms = (describe: string) => z.number().min(0).max(LONGEST_WAIT_MS).describe(describe);
export const patterns = (describe: string) => z.array(words).max(20).describe(describe);

/** One command and what should come back. */
export const step = z.strictObject({
  send: words.describe('what is sent, with values in braces, such as "M {x} {y}"; control characters as <CR>'),
  expect: words.describe('the whole line that should come back, such as "POS {x:number} {y:number}"; left out where nothing comes back').optional(),
  followedBy: words.describe('a second line that comes after it').optional(),
  errors: patterns('what comes back instead when this command is refused').default([]),
  replyWithinMs: z.number().min(1).max(LONGEST_WAIT_MS).describe('patience for this command').optional(),
  bare: z.boolean().describe('sent without the terminator').default(false),
});

export const steps = (describe: string) => z.array(step).min(1).max(20).describe(describe);

const failure = z.strictObject({
  line: words.describe('what the device says'),
  means: z.enum(['alarm', 'stalled', 'error']).describe('what this means'),
});

const check = z.strictObject({
  send: words.describe('the question'),
  busy: patterns('answers while it moves').default([]),
  done: z.array(words).min(1).max(20).describe('answers when it stands still'),
  failed: z.array(failure).max(20).describe('answers when something has gone wrong').default([]),
});

/** How a motion's end is recognised. */
export const done = z
  .strictObject({
    checks: z.array(check).max(4).describe('what is asked until it stands still; without any, until two readings of the position agree').default([]),
    everyMs: z.number().min(1).max(10_000).describe('pause between two questions').default(50),
    withinMs: z.number().min(1).max(LONGEST_WAIT_MS).describe('longest wait beyond the time that the way takes').default(10_000),
  })
  .describe('how its standing still is recognised')
  .prefault({});

/** Whether the device itself knows where it is. */
export const reference = z
  .strictObject({
    send: words.describe('the question'),
    known: z.array(words).min(1).max(20).describe('answers when it knows its position'),
    lost: patterns('answers when it must be homed first'),
  })
  .describe('how the device says whether it knows its position; without it, the position counts as lost after the line was lost');

const decimals = z.number().int().min(0).max(9).describe('digits behind the point').default(0);
const digits = z.number().int().min(1).max(15).describe('digits before the point, filled up with zeros').default(1);
const plus = z.boolean().describe('positive numbers are written with a plus sign').default(false);
export const notZero = z.number().refine((value) => value !== 0, 'be another number than 0');

/** device = um x unitsPerUm + offsetUnits. */
export const lengthScale = (describe: string) =>
  z
    .strictObject({
      unitsPerUm: notZero.describe('units of the device in one um; below 0 where its axis runs the other way'),
      offsetUnits: z.number().describe('what the device says at 0 um').default(0),
      decimals,
      digits,
      plus,
    })
    .describe(describe);

/** device = unitsAtZero + fraction x (unitsAtFull - unitsAtZero). */
export const fractionScale = z
  .strictObject({ unitsAtZero: z.number().describe('what the device says at 0').default(0), unitsAtFull: z.number().describe('what the device says at 1'), decimals, digits, plus })
  .describe('from a fraction of 0 to 1 to the units of the device');

export const speed = z
  .strictObject({
    unitsPerUmPerS: z.number().positive().describe('units of the device in one um/s'),
    decimals,
    digits,
    plus,
    perAxis: z.boolean().describe('the speed counts for each axis by itself, so that a slanting way is faster').default(true),
    set: steps('how it is set, with {speed}; left out where {speed} stands in the move').optional(),
  })
  .describe('how its speed is set');
