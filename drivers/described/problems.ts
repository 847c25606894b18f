import type { PatternProblem } from './pattern.ts';
import type { TemplateProblem } from './template.ts';

/** What can be wrong in a description beyond its schema. */
export type ProblemKind =
  | TemplateProblem
  | PatternProblem
  /** The commands of an action never use this value. */
  | { readonly code: 'missingPlaceholder'; readonly name: string }
  /** The answers of an action never name this value. */
  | { readonly code: 'missingField'; readonly name: string }
  /** It must be a number to be used. */
  | { readonly code: 'notANumber'; readonly name: string }
  | { readonly code: 'noAnswer' }
  | { readonly code: 'terminatorInside' }
  | { readonly code: 'mixedMove' }
  | { readonly code: 'speedNowhere' }
  | { readonly code: 'speedTwice' }
  | { readonly code: 'limitsOrder'; readonly low: number; readonly high: number }
  | { readonly code: 'sameAtBothEnds' }
  | { readonly code: 'noPart' }
  | { readonly code: 'cannotBeStopped' };

export type DescriptionProblem = ProblemKind & { readonly path: readonly (string | number)[] };
