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

/** Time from one place to the next, in s: backlash take-up included, and where the way is long, the objective up before and down after. */
export function travelSeconds(from: StagePoint, to: StagePoint, timing: TravelTiming): number {
  const { lowTravel, highSpeedUmPerS } = timing;
  if (!lowTravel || !needsRaising(from, to, timing.backlashUm, lowTravel.maxUm)) return approachSeconds(from, to, timing);
  return approachSeconds(from, to, { ...timing, maxSpeedUmPerS: highSpeedUmPerS }) + 2 * focusMoveSeconds(lowTravel.raiseUm, timing);
}
