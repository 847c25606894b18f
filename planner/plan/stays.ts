import { focusMoveSeconds } from './travel.ts';
import type { StageTiming } from './types.ts';

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
