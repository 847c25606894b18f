export type { ConfigProblem, ErrorCode, ExitCode, NightjarDetails, NightjarErrorCode, TableProblem } from './codes.ts';
export { hasCode, isNightjarError, NightjarError } from './nightjarError.ts';
export { exitCodeFor, sentenceFor, sentenceForRefusal } from './sentence.ts';
export type { KeptSoFar, SpokenError } from './sentence.ts';
export { bytes, counted, figure, lengthUm } from './words.ts';
