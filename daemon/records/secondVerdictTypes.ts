import type { LabelSource } from '../../planner/layers/types.ts';

/** A layer number that a person gave to a terrace for the second time, without being told. It calibrates nothing. */
export interface NewSecondVerdict {
  /** The verdict that it repeats, by its `seq`. */
  readonly firstSeq: number;
  readonly layers: number;
  readonly source: LabelSource;
  readonly initials: string;
  readonly atMs: number;
}

export interface SecondVerdict extends NewSecondVerdict {
  readonly seq: number;
  readonly withdrawnAtMs?: number;
  /** Of the verdict that it repeats. */
  readonly first: { readonly layers: number; readonly atMs: number };
}

/** The part of the records that keeps second verdicts. */
export interface SecondVerdictRecords {
  /** Writes one; `instead` is one that it takes the place of. Returns its `seq`. */
  addSecondVerdict(runId: string, verdict: NewSecondVerdict, instead?: number): number;
  withdrawSecondVerdict(runId: string, seq: number, atMs: number): void;
  /** Of one night, or of all nights when left out; in the order in which they were given, those taken back too. */
  secondVerdicts(runId?: string): readonly SecondVerdict[];
}
