import type { StagePoint } from '../units/index.ts';
import type { StageTiming } from './types.ts';

/** What of the stage's timing decides how long a move takes. */
export type MoveTiming = Pick<StageTiming, 'maxSpeedUmPerS' | 'accelerationUmPerS2' | 'backlashUm'>;

/**
 * Time for one axis to go a distance from rest to rest with a trapezoidal speed profile, in s: 2 sqrt(d/a) while top speed v is not
 * reached (d < v^2/a), else d/v + v/a. Follows from d = area under the speed curve; any textbook of mechanics.
 */
export function axisSeconds(distanceUm: number, maxSpeedUmPerS: number, accelerationUmPerS2: number): number {
  const way = Math.abs(distanceUm);
  const rampUm = (maxSpeedUmPerS * maxSpeedUmPerS) / accelerationUmPerS2;
  return way < rampUm ? 2 * Math.sqrt(way / accelerationUmPerS2) : way / maxSpeedUmPerS + maxSpeedUmPerS / accelerationUmPerS2;
}

/** Time of one straight move, both axes starting together: the slower axis decides. In s, without settling. */
export function moveSeconds(from: StagePoint, to: StagePoint, timing: MoveTiming): number {
  const { maxSpeedUmPerS, accelerationUmPerS2 } = timing;
  // The time grows with the distance, so the longer way is the slower axis.
  const longerUm = Math.max(Math.abs(to.xUm - from.xUm), Math.abs(to.yUm - from.yUm));
  return axisSeconds(longerUm, maxSpeedUmPerS, accelerationUmPerS2);
}

/**
 * Where the stage stops on its way to a target so that both axes arrive from their low side: first `backlashUm` below the target on
 * every axis that would arrive from above, then the target; only the target when no axis would.
 */
export function approachPath(from: StagePoint, to: StagePoint, backlashUm: number): readonly StagePoint[] {
  const fromAboveX = to.xUm < from.xUm;
  const fromAboveY = to.yUm < from.yUm;
  if (backlashUm <= 0 || (!fromAboveX && !fromAboveY)) return [to];
  return [{ xUm: to.xUm - (fromAboveX ? backlashUm : 0), yUm: to.yUm - (fromAboveY ? backlashUm : 0) }, to];
}

/** Time to arrive at a target with the backlash taken up, in s, without settling. */
export function approachSeconds(from: StagePoint, to: StagePoint, timing: MoveTiming): number {
  let seconds = 0;
  let at = from;
  for (const stop of approachPath(from, to, timing.backlashUm)) {
    seconds += moveSeconds(at, stop, timing);
    at = stop;
  }
  return seconds;
}
