import type { RunState } from '../records/types.ts';

/** One tile still to be taken: its index in the plan and the chip that it lies on. */
export interface TileToTake {
  readonly tile: number;
  readonly chip: string;
}

/** Flakes to be looked at again at high magnification once every tile is taken. */
export interface CloseUpPass {
  /** They are chosen when all flakes are known; `over`: none are wanted, or all is done that can be. */
  readonly stage: 'toChoose' | 'chosen' | 'over';
  /** In the order in which they are gone to. */
  readonly todo: readonly string[];
  readonly at: number;
  readonly skippedInARow: number;
}

/** What the run knows of itself. Nothing here refers to a device: the executor carries effects out and reports events back. */
export interface RunMachine {
  readonly phase: RunState;
  /** Everything was made ready for the first move. */
  readonly isPrepared: boolean;
  /** What was to be taken when the run was begun or resumed, in the order of the route. Never changed, so that a long plan is not copied. */
  readonly todo: readonly TileToTake[];
  /** Place of the present tile in `todo`; at its length when none is left. */
  readonly at: number;
  /** Chips whose focus surface has been measured since the run was begun or resumed. */
  readonly focused: readonly string[];
  /** Chips that had focus and lost it in mid-scan: that a chip then has none is no fault of the lamp. */
  readonly lost: readonly string[];
  /** Tries at the present tile, or at making ready, that have failed; focus that is measured anew in between does not count as success. */
  readonly failures: number;
  /** Tries at the focus of the present chip that have failed. */
  readonly focusFailures: number;
  /** Tiles skipped in a row, to tell one bad place from a bad instrument. */
  readonly skippedInARow: number;
  readonly closeUps: CloseUpPass;
  /** What comes once the frames under way are recorded: a person's wish, trouble, or the end. */
  readonly after: Wish | null;
  /** Why the run is where it is: the code of the last trouble, or the person's wish. */
  readonly cause: string;
}

export interface Wish {
  readonly kind: 'pause' | 'park' | 'finish';
  readonly cause: string;
}

export type RunEvent =
  | { readonly type: 'begin' }
  | { readonly type: 'prepared' }
  | { readonly type: 'preparationFailed'; readonly code: string }
  | { readonly type: 'focusMapped'; readonly chip: string }
  | { readonly type: 'focusFailed'; readonly chip: string; readonly code: string }
  | { readonly type: 'queueFull' }
  | { readonly type: 'queueFree' }
  | { readonly type: 'tileTaken'; readonly tile: number }
  | { readonly type: 'tileFailed'; readonly tile: number; readonly code: string }
  | { readonly type: 'closeUpsChosen'; readonly flakes: readonly string[] }
  /** They could not be chosen, or the instrument could not be changed for them. */
  | { readonly type: 'closeUpsFailed'; readonly code: string }
  | { readonly type: 'closeUpTaken'; readonly flake: string }
  | { readonly type: 'closeUpFailed'; readonly flake: string; readonly code: string }
  /** The time for close-ups is used up. */
  | { readonly type: 'closeUpsOver' }
  /** `isReferencedAnew`: the axes were homed, and focus is measured once more before the next tile. */
  | { readonly type: 'recovered'; readonly isReferencedAnew?: boolean }
  | { readonly type: 'recoveryFailed'; readonly code: string }
  | { readonly type: 'recordsFailed'; readonly code: string }
  /** Tile after tile, nothing can be read from the frames, or the light has faded too far. */
  | { readonly type: 'framesUseless'; readonly code: string }
  /** What was under way has not ended, nor shown any sign of life, for longer than anything takes: it is given up. */
  | { readonly type: 'stuck' }
  | { readonly type: 'drained' }
  | { readonly type: 'parked' }
  /** Everything is recorded and the instrument as the run sheet wants it at the end. */
  | { readonly type: 'finished' }
  /** Nightjar itself failed while it carried an effect out. */
  | { readonly type: 'broke'; readonly code: string }
  | { readonly type: 'pauseAsked' }
  | { readonly type: 'goOnAsked' }
  | { readonly type: 'stopAsked' };

export type RunEffect =
  | { readonly type: 'prepare' }
  | { readonly type: 'mapFocus'; readonly chip: string }
  | { readonly type: 'takeTile'; readonly tile: number }
  | { readonly type: 'skipTiles'; readonly tiles: readonly number[]; readonly code: string }
  | { readonly type: 'chooseCloseUps' }
  | { readonly type: 'takeCloseUp'; readonly flake: string }
  | { readonly type: 'skipCloseUp'; readonly flake: string; readonly code: string }
  | { readonly type: 'recover'; readonly code: string; readonly attempt: number }
  | { readonly type: 'drain' }
  | { readonly type: 'park'; readonly code: string }
  | { readonly type: 'finish' };
