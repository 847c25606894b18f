import type { SeenKnownFlake } from '../../planner/knownFlake/index.ts';

/** When in the night: before the first chip, or after the last tile. */
export type VisitMoment = 'first' | 'last';

/** What is kept of every visit to the known flake, whatever became of it. */
export interface KnownFlakeVisitEnd {
  readonly moment: VisitMoment;
  /** The flake's name in the instrument file. */
  readonly name: string;
  /** Optical path with all that decides how bright a frame is: visits are held against those of the same light only. */
  readonly light: string;
  readonly exposureMs: number;
  readonly takenAtMs: number;
}

/** A visit to the known flake, or why it brought nothing. */
export type KnownFlakeVisit = KnownFlakeVisitEnd & (({ readonly outcome: 'found'; readonly sharpness: number } & SeenKnownFlake) | { readonly outcome: 'notFound'; readonly reason: string });

/** The part of the records that keeps the visits. */
export interface KnownFlakeRecords {
  /** Writes a visit; it takes the place of an earlier one of the same night and moment. */
  putKnownFlake(runId: string, visit: KnownFlakeVisit): void;
  /** Of one night: two at most. */
  knownFlake(runId: string): readonly KnownFlakeVisit[];
  /**
   * What earlier nights found of the same flake under the same light, the latest visit of each, the latest night first.
   * @param most so many nights at most
   */
  knownFlakeBefore(runId: string, wanted: Pick<KnownFlakeVisit, 'name' | 'light' | 'moment'>, most: number): readonly (KnownFlakeVisit & { readonly outcome: 'found' })[];
}
