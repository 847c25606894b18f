import { LARGEST_TILT_MRAD } from '../focus/prediction.ts';
import { edgesMeet, pointOnEdge } from '../geometry/crossing.ts';
import { containsPoint, edgesOf } from '../geometry/measure.ts';
import type { Polygon } from '../geometry/measure.ts';
import { distanceUm } from '../units/index.ts';
import type { StagePoint } from '../units/index.ts';
import { approachSeconds, axisSeconds } from './kinematics.ts';
import type { MoveTiming } from './kinematics.ts';
import type { LowTravel, StageTiming } from './types.ts';

/** What decides how long it takes to get from one place to the next one. */
export interface TravelTiming extends MoveTiming, Pick<StageTiming, 'highSpeedUmPerS' | 'focusSpeedUmPerS' | 'focusAccelerationUmPerS2'> {
  readonly lowTravel?: LowTravel;
  /** Time spent at each tile besides getting there, in s. */
  readonly perTileS: number;
}

/** Whether the objective must be raised for this way: the backlash's overshoot counts twice, once beyond and once back. */
export function needsRaising(from: StagePoint, to: StagePoint, backlashUm: number, maxLowTravelUm: number): boolean {
  return distanceUm(from, to) + 2 * backlashUm > maxLowTravelUm;
}

/** Time of one move of the focus drive, in s. */
export function focusMoveSeconds(wayUm: number, timing: Pick<StageTiming, 'focusSpeedUmPerS' | 'focusAccelerationUmPerS2'>): number {
  return axisSeconds(wayUm, timing.focusSpeedUmPerS, timing.focusAccelerationUmPerS2);
}

/** The steepest that a chip lies on its holder, in um per um: what the objective is lifted by on a long low way over it. */
export const STEEPEST = LARGEST_TILT_MRAD / 1000;

/**
 * The stops of a long way that may be gone low because all of it lies over one chip, as the scan itself does: each stretch as long as a
 * low way may be. `undefined` when the way leaves the chip: then the objective must be raised.
 * @param overUm the chip's edge
 */
export function lowHops(from: StagePoint, to: StagePoint, overUm: Polygon<'stage'>, backlashUm: number, maxLowTravelUm: number): readonly StagePoint[] | undefined {
  const longestUm = maxLowTravelUm - 2 * backlashUm;
  const leaves = !containsPoint(overUm, from) || !containsPoint(overUm, to) || edgesOf(overUm).some((edge) => edgesMeet(edge, { index: -1, from, to }));
  if (leaves || !(longestUm > 0)) return undefined;
  const hops = Math.ceil(distanceUm(from, to) / longestUm);
  return Array.from({ length: hops }, (_, i) => pointOnEdge({ index: -1, from, to }, (i + 1) / hops));
}

/**
 * Time from one place to the next, in s: backlash take-up included, and where the way is long, the objective up before and down after.
 * @param overUm the edge of a chip over which long ways are gone low, see {@link lowHops}
 */
export function travelSeconds(from: StagePoint, to: StagePoint, timing: TravelTiming, overUm?: Polygon<'stage'>): number {
  const { lowTravel, highSpeedUmPerS, backlashUm } = timing;
  if (!lowTravel || !needsRaising(from, to, backlashUm, lowTravel.maxUm)) return approachSeconds(from, to, timing);
  const hops = overUm && lowHops(from, to, overUm, backlashUm, lowTravel.maxUm);
  if (!hops) return approachSeconds(from, to, { ...timing, maxSpeedUmPerS: highSpeedUmPerS }) + 2 * focusMoveSeconds(lowTravel.raiseUm, timing);
  const hopsS = hops.reduce((sum, hop, i) => sum + approachSeconds(hops[i - 1] ?? from, hop, timing), 0);
  return hopsS + focusMoveSeconds(STEEPEST * distanceUm(from, to), timing);
}
