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
  /** Finds its reference switches. Rejects with `unsupported` where it has none. */
  home(signal?: AbortSignal): Promise<void>;
  /** Homing lifts the objective to its upper end before x and y move, so that it may begin at any height, a lost one too. */
  readonly homingLifts?: true;
  /** For a stage without switches: a person says that it stands at its reference place now. Nothing moves. */
  takeReference?(): Promise<void>;
  /** Halts motion at once. A convenience, not a safety device. */
  stop(): Promise<void>;
  close(): Promise<void>;
}
