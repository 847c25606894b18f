import type { StagePoint } from '../units/index.ts';

/** A flake that may be looked at again at high magnification. */
export interface CloseUpCandidate {
  readonly id: string;
  readonly chip: string;
  /** Middle of the part that is to be in the picture, in stage um. */
  readonly atUm: StagePoint;
  /** What a close-up of it is worth, more than 0; see `closeUpValue`. */
  readonly value: number;
}

/** What a close-up is made of, as far as it takes time. */
export interface CloseUpPolicy {
  /** Searched above and below the expected focus. */
  readonly focusRangeUm: number;
  /** Of the objective that close-ups are taken with. */
  readonly depthOfFieldUm: number;
  /** From how far below each height is reached. */
  readonly takeUpUm: number;
  /** Frames of the stack through focus. */
  readonly stackFrames: number;
  readonly stackStepUm: number;
}
