import { focusMoveSeconds } from './travel.ts';
import type { FocusWork, StageTiming } from './types.ts';

/** Usual step of the focus drive from tile to tile: 5 mrad of tilt over a step of 0.4 mm (common practice, no source). */
const TILE_FOCUS_STEP_UM = 2;

/** From the stage's arrival at a tile until the picture stands, in s: the focus drive follows the focus surface while the stage settles. */
export function standSeconds(timing: StageTiming): number {
  return Math.max(timing.settleMs / 1000, focusMoveSeconds(TILE_FOCUS_STEP_UM, timing) + timing.focusSettleMs / 1000);
}

/** Time at one tile from the stage's arrival until it may go on, in s; the frame is read out on the way to the next one. */
export function tileSeconds(timing: StageTiming): number {
  return standSeconds(timing) + timing.exposureMs / 1000;
}

/** One frame with the stage at rest until it is in, in s. */
export function frameSeconds(timing: StageTiming): number {
  return (timing.exposureMs + timing.readoutMs) / 1000;
}

/** Time at one focus point once the stage has arrived, in s: it settles once, each exposure follows a step of the focus drive, one whole frame ends it. */
export function focusPointSeconds(timing: StageTiming, exposures: number, { stepUm }: Pick<FocusWork, 'stepUm'>): number {
  const perExposureS = focusMoveSeconds(stepUm, timing) + timing.focusSettleMs / 1000 + frameSeconds(timing);
  return timing.settleMs / 1000 + exposures * perExposureS + frameSeconds(timing);
}
