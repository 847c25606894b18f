import type { VerifyReport } from '../../daemon/records/check/verify.ts';
import type { TileRecord, TransitionRecord } from '../../daemon/records/types.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import type { AttemptStory } from './attempt.ts';
import type { FaultScript } from './faultScript.ts';

/** All that is known of a night when it is over; what the invariants are held against. */
export interface NightStory {
  readonly script: FaultScript;
  readonly variation: number;
  readonly attempts: readonly AttemptStory[];
  /** Indices of the planned tiles, with their chips. */
  readonly planned: readonly { readonly tile: number; readonly chip: string }[];
  readonly safeHeightUm: number;
  readonly tiles: readonly Pick<TileRecord, 'tile' | 'chip' | 'outcome' | 'reason'>[];
  readonly transitions: readonly TransitionRecord[];
  readonly flakes: readonly Flake[];
  /** Of the same night without faults: of one that went through, and of others that were broken off and gone on with. */
  readonly twinFlakes: readonly (readonly Flake[])[];
  readonly verified: VerifyReport;
  /** SHA-256 of everything in the records, times and events included: two replays of a seed have the same. */
  readonly fingerprint: string;
}
