import { DriverError } from '../interfaces/index.ts';
import type { Connection } from './connection.ts';
import { isReadable, visible } from './controlCharacters.ts';
import { converse, seenIn, type Manners } from './converse.ts';
import { match, patternText, type Fields, type Pattern } from './pattern.ts';
import type { DevicePlan } from './plan.ts';
import { fill } from './template.ts';

/** From this share of bytes on that are no text, what comes is noise and no language. */
const NOISE_SHARE = 0.2;

function noiseShare(text: string): number {
  return [...text].filter((character) => !isReadable(character)).length / Math.max(1, text.length);
}

/** True when the right words came with another end: `QF200<CR>` where <LF> ends a line. */
function hasOtherEnd(pattern: Pattern, heard: readonly string[]): boolean {
  return heard.some((text) => /[^ -~]/.test(text) ? text.split(/[^ -~]+/).some((part) => match(pattern, part) !== undefined) : match(pattern, text) !== undefined);
}

/** What the first question's answers say about who is at the other end. */
function whoElse(plan: DevicePlan, line: string, sent: string, expect: Pattern, heard: readonly string[]): DriverError {
  const all = heard.join(' ');
  const about = { line, device: `${plan.maker} ${plan.model}`, sent: visible(sent) };
  if (all === '') return new DriverError('noAnswer', { ...about, waitedMs: plan.identify.replyWithinMs * (1 + plan.line.retries) });
  if (noiseShare(all) >= NOISE_SHARE) return new DriverError('garbled', { ...about, ...seenIn(all) });
  if (hasOtherEnd(expect, heard)) {
    return new DriverError('badReply', { ...about, what: `the right words, but not ended by ${visible(plan.line.replyTerminator)}: correct replyTerminator in the description`, ...seenIn(all) });
  }
  return new DriverError('wrongDevice', { ...about, expected: visible(patternText(expect)), ...seenIn(all) });
}

/**
 * Asks who is there until the right answer comes. What else comes is passed over: a greeting, or noise from before.
 * Rejects with `noAnswer`, `garbled`, `wrongDevice`, `disconnected`, or `badReply` when only the ends of lines differ.
 */
export async function introduce(connection: Connection, plan: DevicePlan, manners: Manners): Promise<Fields> {
  const { identify } = plan;
  const { expect } = identify;
  if (!expect) throw new RangeError('a description without an answer to its first question');
  const text = fill(identify.send, {});
  const heard: string[] = [];
  for (let left = plan.line.retries; left >= 0; left--) {
    try {
      const fields = await converse(connection, { step: identify, text, understand: (line) => match(expect, line), passedOver: heard }, manners);
      if (fields) return fields;
    } catch (error) {
      if (!(error instanceof DriverError) || error.code !== 'timeout') throw error;
    }
  }
  throw whoElse(plan, connection.name, text, expect, heard);
}
