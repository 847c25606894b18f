import { middleOf, spreadOf } from './robust.ts';
import type { Change, Quantity, SeenKnownFlake, Steadiness } from './types.ts';

/** So many earlier nights are looked back to at most: what was a season ago says nothing of last week. */
export const nightsLookedBack = 30;
/** A night is out of the ordinary beyond this many standard errors of the difference: with five quantities, a false alarm in 250 to 2,000 nights (measured in the tests). */
const sigmas = 4;
/** The expected spread counts as much as this many nights of one's own: nobody knows a spread from two nights. */
const expectedCountsAs = 4;

/** What is expected of an instrument that is well, until its own nights say otherwise, and the least change that is worth a word. Our own choice, no source. */
const expected: Readonly<Record<Quantity, { readonly spread: number; readonly least: number }>> = {
  contrast: { spread: 0.006, least: 0.02 },
  light: { spread: 0.01, least: 0.04 },
  colour: { spread: 0.005, least: 0.02 },
  place: { spread: 1, least: 4 },
  focus: { spread: 2, least: 8 },
};

/**
 * Holds a visit against the nights before it, under the same light: the median of each quantity, and a bound from its robust spread (median
 * absolute deviation) together with what is expected of an instrument that is well. Pure.
 * @param before one visit for each earlier night, any order; those beyond {@link nightsLookedBack} are the caller's to leave out
 */
export function steadinessOf(now: SeenKnownFlake, before: readonly SeenKnownFlake[]): Steadiness {
  const channel = strongestChannel(before.length > 0 ? before : [now]);
  const contrast = now.contrast[channel] ?? Number.NaN;
  const comparable = before.filter((night) => night.contrast.length === now.contrast.length && night.level.length === now.level.length);
  if (comparable.length === 0) return { contrast, channel, nights: 0, changes: [] };
  const share = (quantity: Quantity, of: (visit: SeenKnownFlake) => number, error = 0): Change => {
    const middle = middleOf(comparable.map(of));
    return changeOf(quantity, of(now) / middle - 1, comparable.map((visit) => of(visit) / middle), { measuredError: error / Math.abs(middle) });
  };
  const changes = [
    share('contrast', (visit) => visit.contrast[channel] ?? Number.NaN, now.contrastError[channel]),
    share('light', ({ level }) => level[level.length >> 1] ?? Number.NaN),
    ...(now.level.length > 1 ? [share('colour', ({ level }) => (level[0] ?? Number.NaN) / (level.at(-1) ?? Number.NaN))] : []),
    placeChange(now, comparable),
    changeOf('focus', now.zUm - middleOf(comparable.map(({ zUm }) => zUm)), comparable.map(({ zUm }) => zUm)),
  ];
  return { contrast, channel, nights: comparable.length, changes };
}

/** What has changed by more than its bound, the worst first. */
export function drifted({ changes }: Steadiness): readonly Change[] {
  return changes.filter(({ isSteady }) => !isSteady).sort((a, b) => Math.abs(b.by) / b.bound - Math.abs(a.by) / a.bound);
}

/** The channel in which the flake shows most. */
function strongestChannel(visits: readonly SeenKnownFlake[]): number {
  const strengths = (visits[0]?.contrast ?? []).map((_, channel) => Math.abs(middleOf(visits.map(({ contrast }) => contrast[channel] ?? 0))));
  return strengths.reduce((best, strength, channel) => (strength > (strengths[best] ?? 0) ? channel : best), 0);
}

/** Both axes have the same spread, so that the distance is held against one bound. */
function placeChange(now: SeenKnownFlake, before: readonly SeenKnownFlake[]): Change {
  const axes = [before.map(({ offsetUm }) => offsetUm.xUm), before.map(({ offsetUm }) => offsetUm.yUm)] as const;
  const [x, y] = [middleOf(axes[0]), middleOf(axes[1])];
  const about = [...axes[0].map((xUm) => xUm - x), ...axes[1].map((yUm) => yUm - y)];
  return changeOf('place', Math.hypot(now.offsetUm.xUm - x, now.offsetUm.yUm - y), about, { nights: before.length, free: about.length - 2 });
}

interface Sample {
  readonly measuredError?: number;
  readonly nights?: number;
  /** Values less what was estimated from them. */
  readonly free?: number;
}

/**
 * The variance of the difference is that of one night, that of the median of n (pi / 2 n of one night's in large normal samples; any textbook of
 * robust statistics) and the measurement's own.
 */
function changeOf(quantity: Quantity, by: number, values: readonly number[], { measuredError = 0, nights = values.length, free = values.length - 1 }: Sample = {}): Change {
  const { spread, least } = expected[quantity];
  const own = spreadOf(values) ?? 0;
  const variance = (expectedCountsAs * spread ** 2 + free * own ** 2) / (expectedCountsAs + free);
  const error = Math.sqrt(variance * (1 + Math.min(1, Math.PI / 2 / nights)) + measuredError ** 2);
  const bound = Math.max(least, sigmas * error);
  // Written so that what is no number is not called steady.
  return { quantity, by, error, bound, isSteady: Math.abs(by) <= bound };
}
