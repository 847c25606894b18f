import type { LabelledContrast, LabelSource } from '../../planner/layers/types.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { ChipRecord } from './chipTypes.ts';

/** What a layer number says something of: contrasts measured under the same light on the same kind of wafer. */
export interface Circumstances {
  readonly opticalPath: string;
  readonly material: string;
  readonly substrate: string;
  /** What the wafer's box says. */
  readonly oxideNm: number;
}

/** A layer number that a person gives to a terrace, with what the terrace was measured and predicted as at that moment. */
export interface NewVerdict {
  readonly flakeId: string;
  readonly chip: string;
  /** Index of the terrace in its flake, and a place on it: indices may change when the flake is read again, the place does not. */
  readonly terrace: number;
  readonly atUm: StagePoint;
  readonly contrast: readonly number[];
  readonly contrastError: readonly number[];
  readonly predictedLayers: number | null;
  readonly predictedProbability: number;
  readonly layers: number;
  readonly source: LabelSource;
  readonly initials: string;
  readonly note?: string;
  readonly atMs: number;
  readonly under: Circumstances;
}

/** A verdict as it stands in the records. One that was taken back stays, with the time at which it was. */
export interface VerdictRecord extends NewVerdict {
  /** Counts up over all runs of the data folder. */
  readonly seq: number;
  readonly withdrawnAtMs?: number;
}

/** Verdicts given and taken back at one time, with everything that is read otherwise because of them: written whole or not at all. */
export interface VerdictCommit {
  readonly atMs: number;
  readonly given: readonly NewVerdict[];
  /** By `seq`. */
  readonly withdrawn: readonly number[];
  readonly flakes: readonly Flake[];
  readonly chips: readonly ChipRecord[];
}

/** The part of the records that keeps what people said. */
export interface VerdictRecords {
  /** Throws `noSuchRun`, and `internal` for a verdict to be taken back that is not in force. */
  commitVerdicts(runId: string, commit: VerdictCommit): void;
  /** Every verdict of a run, those taken back too, in the order in which they were given. */
  verdicts(runId: string): readonly VerdictRecord[];
  /**
   * The verdicts in force of all runs that calibrate a ladder under these circumstances, in the order in which they were given.
   * @param pending verdicts about to be written: the answer is as it will be then
   */
  labels(under: Circumstances, pending?: Pick<VerdictCommit, 'given' | 'withdrawn'>): readonly LabelledContrast[];
}
