import type { StageBox, StagePoint } from '../../planner/units/index.ts';

export type StageState = 'idle' | 'moving' | 'alarm' | 'positionLost' | 'closed';

export interface MoveOptions {
  /** Never faster than this; the stage's own limit when left out. */
  readonly speedUmPerS?: number;
  /** Aborting stops the motion; the move then rejects with the code `stopped`. */
  readonly signal?: AbortSignal;
}

/** A motorised xy stage. Positions are stage um; every move resolves when the stage stands still at its target. */
export interface Stage {
  readonly travel: StageBox;
  position(): Promise<StagePoint>;
  state(): Promise<StageState>;
  /** Resolves with the position reported on arrival. Rejects with `limit`, `stalled`, `timeout`, `stopped`, `positionLost`. */
  moveTo(target: StagePoint, options?: MoveOptions): Promise<StagePoint>;
  home(signal?: AbortSignal): Promise<void>;
  /** Halts motion at once. A convenience, not a safety device. */
  stop(): Promise<void>;
  close(): Promise<void>;
}
