/** Kinds of what can be wrong in a data folder; each has its meaning and its remedy in `words.ts`. */
export const problemKinds = [
  'noDatabase',
  'database',
  'unreadableRow',
  'dangling',
  'fileMissing',
  'fileChanged',
  'notAPicture',
  'outsidePlan',
  'tileTwice',
  'noReason',
  'tilesMissing',
  'story',
] as const;

export type ProblemKind = (typeof problemKinds)[number];

/** One thing that is wrong. */
export interface Problem {
  readonly kind: ProblemKind;
  /** A file relative to the data folder, or a row: its table and key. */
  readonly where: string;
  /** What was found there, as a clause. */
  readonly what: string;
}
