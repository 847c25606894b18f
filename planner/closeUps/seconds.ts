import { searchCost, searchSeconds } from '../focus/exposures.ts';
import { focusMoveSeconds } from '../plan/travel.ts';
import type { StageTiming } from '../plan/types.ts';
import type { CloseUpPolicy } from './types.ts';

/** The part of the instrument's timing that a close-up depends on; exposure is that of its own optical path. */
export type CloseUpTiming = Pick<StageTiming, 'settleMs' | 'focusSettleMs' | 'focusSpeedUmPerS' | 'focusAccelerationUmPerS2' | 'exposureMs' | 'readoutMs'>;

/**
 * Time of one close-up from the stage's arrival until it may go on, in s: settling, a focus search, and the frames of the stack, each of
 * them in before the drive steps on. The way there is not in it: focusing takes longer than going.
 */
export function secondsPerCloseUp(policy: CloseUpPolicy, timing: CloseUpTiming): number {
  const search = searchCost(policy.focusRangeUm, policy.depthOfFieldUm, policy.takeUpUm, 0);
  return timing.settleMs / 1000 + searchSeconds(search, timing) + stackSeconds(policy, timing);
}

/** From the peak down below the lowest frame, up to it, then frame after frame. */
function stackSeconds({ stackFrames, stackStepUm, takeUpUm }: CloseUpPolicy, timing: CloseUpTiming): number {
  const halfUm = ((stackFrames - 1) * stackStepUm) / 2;
  const frameS = (timing.focusSettleMs + timing.exposureMs + timing.readoutMs) / 1000;
  return focusMoveSeconds(halfUm + takeUpUm, timing) + focusMoveSeconds(takeUpUm, timing) + stackFrames * frameS + (stackFrames - 1) * focusMoveSeconds(stackStepUm, timing);
}

/** Heights of a stack's frames about the middle one, rising. */
export function stackHeightsUm(middleUm: number, { stackFrames, stackStepUm }: Pick<CloseUpPolicy, 'stackFrames' | 'stackStepUm'>): readonly number[] {
  return Array.from({ length: stackFrames }, (_, i) => middleUm + (i - (stackFrames - 1) / 2) * stackStepUm);
}
