import { DriverError } from '../interfaces/index.ts';
import { visible } from './controlCharacters.ts';
import type { Dialogue } from './dialogue.ts';
import { match, type Fields } from './pattern.ts';
import type { Check, FailureMeaning, MoverPlan } from './plan.ts';
import type { Whereabouts } from './whereabouts.ts';

export type Look = 'moving' | 'still';

interface Failure {
  readonly means: FailureMeaning;
  readonly fields: Fields;
  readonly line: string;
}

const CODES = { alarm: 'alarm', stalled: 'stalled', error: 'deviceError' } as const satisfies Readonly<Record<FailureMeaning, DriverError['code']>>;

function read(check: Check, line: string): Look | Failure | undefined {
  for (const { pattern, means } of check.failed) {
    const fields = match(pattern, line);
    if (fields) return { means, fields, line };
  }
  if (check.busy.some((pattern) => match(pattern, line))) return 'moving';
  return check.done.some((pattern) => match(pattern, line)) ? 'still' : undefined;
}

/** Asks everything that the description names; moving when any says so. Rejects with `alarm`, `stalled` or `deviceError` where it is told. */
async function askAll({ device, done: { checks } }: MoverPlan, dialogue: Dialogue, epoch: number | undefined): Promise<Look> {
  let all: Look = 'still';
  for (const check of checks) {
    const look = await dialogue.ask(check.ask, (line) => read(check, line), epoch);
    if (typeof look === 'object') throw new DriverError(CODES[look.means], { device, ...Object.fromEntries(look.fields), seen: visible(look.line) });
    if (look === 'moving') all = look;
  }
  return all;
}

/**
 * A way to see whether it moves, for one motion: by what the device answers, or, where nothing can be asked, by two readings of the
 * position that agree. In another epoch than the motion's it is no longer asked.
 */
export function watchStillness(plan: MoverPlan, dialogue: Dialogue, whereabouts: Whereabouts, epoch?: number): () => Promise<Look> {
  if (plan.done.checks.length > 0) return () => askAll(plan, dialogue, epoch);
  let before: readonly number[] | undefined;
  return async () => {
    const now = await whereabouts.units(epoch);
    const isSame = before?.every((value, axis) => value === now[axis]) ?? false;
    before = now;
    return isSame ? 'still' : 'moving';
  };
}
