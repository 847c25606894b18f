import type { Flake } from '../../../planner/flakes/types.ts';
import type { CloseUpRecord, CropRecord, RunRecord, TileRecord, TransitionRecord, VerdictRecord } from '../types.ts';

/** What the records of one night say, as far as its parts have to fit each other: without detections and outlines, which are many. */
export interface NightFacts {
  readonly run: RunRecord;
  readonly transitions: TransitionRecord[];
  readonly chips: string[];
  readonly tiles: Pick<TileRecord, 'tile' | 'chip' | 'outcome' | 'reason' | 'pictureFile'>[];
  readonly flakes: Pick<Flake, 'id' | 'chip' | 'bestTile' | 'tiles'>[];
  readonly crops: CropRecord[];
  readonly closeUps: CloseUpRecord[];
  readonly verdicts: Pick<VerdictRecord, 'seq' | 'flakeId' | 'chip' | 'atUm'>[];
}

export function noFactsYet(run: RunRecord): NightFacts {
  return { run, transitions: [], chips: [], tiles: [], flakes: [], crops: [], closeUps: [], verdicts: [] };
}
