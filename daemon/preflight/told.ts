import { NightjarError } from '../errors/index.ts';
import type { Told } from './check.ts';
import { onDayOf } from '../timeOfDay.ts';

const DAY_MS = 24 * 3_600_000;

/** A time of day, as the computer's clock shows it, on the day of a moment. Throws `badUsage`. */
function timeOn(text: string, option: string, dayMs: number): number {
  const atMs = onDayOf(text, dayMs);
  if (atMs === undefined) throw new NightjarError('badUsage', { reason: `${option} ${text}: a time of day such as 19:40 is wanted` });
  return atMs;
}

/** What the command line says: the lamp was switched on at the last such time of day, and the night ends before the next. Throws `badUsage`. */
export function toldBy({ lampOnSince, endBefore }: { readonly lampOnSince?: string | undefined; readonly endBefore?: string | undefined }, nowMs: number): Told {
  const since = lampOnSince === undefined ? undefined : timeOn(lampOnSince, '--lamp-on-since', nowMs);
  const before = endBefore === undefined ? undefined : timeOn(endBefore, '--end-before', nowMs);
  return {
    ...(since === undefined ? {} : { lampOnSinceMs: since > nowMs ? since - DAY_MS : since }),
    ...(before === undefined ? {} : { endBeforeMs: before <= nowMs ? before + DAY_MS : before }),
  };
}
