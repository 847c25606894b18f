import type { StagePoint } from '../units/index.ts';
import { distanceUm } from '../units/index.ts';
import type { StageTiming } from './types.ts';

/** What of the stage's timing decides how long a move takes. */
export type MoveTiming = Pick<StageTiming, 'maxSpeedUmPerS' | 'accelerationUmPerS2' | 'jerkUmPerS3' | 'backlashUm' | 'playUm'>;

/** Ways shorter than this are none: positions are reported in tenths of a um, and less is lost in the slack. */
export const SAME_PLACE_UM = 0.2;

/**
 * Time to go a distance from rest to rest, in s. Without a limit of the jerk, a trapezoidal speed profile: 2 sqrt(d/a) while top speed v is
 * not reached (d < v^2/a), else d/v + v/a. With it, see {@link smoothSeconds}. Both follow from d = area under the speed curve; any
 * textbook of mechanics.
 */
export function axisSeconds(distanceUm: number, maxSpeedUmPerS: number, accelerationUmPerS2: number, jerkUmPerS3?: number): number {
  const way = Math.abs(distanceUm);
  if (jerkUmPerS3 !== undefined) return smoothSeconds(way, maxSpeedUmPerS, accelerationUmPerS2, jerkUmPerS3);
  const rampUm = (maxSpeedUmPerS * maxSpeedUmPerS) / accelerationUmPerS2;
  return way < rampUm ? 2 * Math.sqrt(way / accelerationUmPerS2) : way / maxSpeedUmPerS + maxSpeedUmPerS / accelerationUmPerS2;
}

/**
 * The same with acceleration growing and falling at a constant rate j at most. Speeding up to v takes v/a + a/j where the full
 * acceleration is reached (v >= a^2/j), else 2 sqrt(v/j), over half of that time times v; a way too short for top speed is all speeding
 * up and slowing down, to the speed at which both just fill it.
 */
function smoothSeconds(way: number, maxSpeed: number, acceleration: number, jerk: number): number {
  if (way === 0) return 0;
  const rampS = (speed: number): number => (speed * jerk >= acceleration ** 2 ? speed / acceleration + acceleration / jerk : 2 * Math.sqrt(speed / jerk));
  if (way >= maxSpeed * rampS(maxSpeed)) return way / maxSpeed + rampS(maxSpeed);
  // Without full acceleration d = 2 v sqrt(v/j), so T = 4 (d/2j)^(1/3); with it d = v (v/a + a/j).
  if (way <= (2 * acceleration ** 3) / jerk ** 2) return 4 * Math.cbrt(way / (2 * jerk));
  const lag = acceleration / jerk;
  return lag + Math.sqrt(lag * lag + (4 * way) / acceleration);
}

/** Time of one straight move, in s, without settling. Speed and acceleration are those along the way. */
export function moveSeconds(from: StagePoint, to: StagePoint, timing: MoveTiming): number {
  return axisSeconds(distanceUm(from, to), timing.maxSpeedUmPerS, timing.accelerationUmPerS2, timing.jerkUmPerS3);
}

/**
 * Where the stage stops on its way to a target so that both axes arrive from their low side: first `backlashUm` below the target on
 * every axis that would arrive from above, then the target; only the target when no axis would.
 */
export function approachPath(from: StagePoint, to: StagePoint, backlashUm: number): readonly StagePoint[] {
  const fromAboveX = to.xUm < from.xUm - SAME_PLACE_UM;
  const fromAboveY = to.yUm < from.yUm - SAME_PLACE_UM;
  if (backlashUm <= 0 || (!fromAboveX && !fromAboveY)) return [to];
  return [{ xUm: to.xUm - (fromAboveX ? backlashUm : 0), yUm: to.yUm - (fromAboveY ? backlashUm : 0) }, to];
}

/**
 * Time to get from tile to tile, in s, without settling: straight where the play is known (see slack.ts; the way through the slack at a
 * turn is not counted), else with the backlash taken up.
 */
export function approachSeconds(from: StagePoint, to: StagePoint, timing: MoveTiming): number {
  if (timing.playUm) return moveSeconds(from, to, timing);
  let seconds = 0;
  let at = from;
  for (const stop of approachPath(from, to, timing.backlashUm)) {
    seconds += moveSeconds(at, stop, timing);
    at = stop;
  }
  return seconds;
}
