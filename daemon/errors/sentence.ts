import { DriverError } from '../../drivers/interfaces/index.ts';
import type { PlanRefusal } from '../../planner/plan/types.ts';
import type { DetailsByCode, ErrorCode, ErrorEntry, ExitCode, Sentence } from './codes.ts';
import { isNightjarError } from './nightjarError.ts';
import { errorTable } from './table.ts';
import { counted, fitToShow } from './words.ts';

/** What the run had recorded when the error came; it replaces the general words of the middle part. */
export interface KeptSoFar {
  readonly tiles: number;
  readonly flakes: number;
}

export interface SpokenError {
  readonly code: ErrorCode;
  /** All three parts, ready to be shown. */
  readonly sentence: string;
  readonly happened: string;
  readonly kept: string;
  readonly next: string;
}

interface Found {
  readonly code: ErrorCode;
  readonly exit: ExitCode;
  readonly parts: Sentence;
}

function lookUp<C extends ErrorCode>(code: C, details: DetailsByCode[C]): Found {
  const entry: ErrorEntry<DetailsByCode[C]> = errorTable[code];
  return { code, exit: entry.exit, parts: entry.say(details) };
}

/** Errors of Node that have a meaning for people; everything else is a fault of Nightjar's own. */
function foreign(error: unknown): Found {
  if (!(error instanceof Error)) return lookUp('internal', { reason: typeof error === 'string' ? error : `what was thrown is no error but of type ${typeof error}` });
  const code = 'code' in error ? error.code : undefined;
  const file = 'path' in error && typeof error.path === 'string' ? error.path : 'the file';
  if (error.name === 'AbortError') return lookUp('interrupted', {});
  if (code === 'ENOSPC' || code === 'EDQUOT') return lookUp('diskFull', { directory: file });
  if (code === 'ENOENT') return lookUp('noSuchFile', { file });
  if (code === 'EACCES' || code === 'EPERM' || code === 'EISDIR') return lookUp('unreadableFile', { file, reason: error.message });
  if (code === 'EADDRINUSE' && 'port' in error && typeof error.port === 'number') return lookUp('portInUse', { port: error.port });
  return lookUp('internal', { reason: error.message });
}

function find(error: unknown): Found {
  if (error instanceof DriverError) return lookUp(error.code, error.details);
  if (isNightjarError(error)) return lookUp(error.code, error.details);
  return foreign(error);
}

/** Names and words of others stand in the parts: a file, a device and a browser may say anything. */
function spoken(code: ErrorCode, parts: Sentence, so?: KeptSoFar): SpokenError {
  const [happened, general, next] = [fitToShow(parts[0]), fitToShow(parts[1]), fitToShow(parts[2])];
  const kept = so ? `Kept: ${counted(so.tiles, 'tile')} and ${counted(so.flakes, 'flake')}.` : general;
  const sentence = [happened, kept, next].join(' ').replace(/\n (?! )/g, '\n');
  return { code, sentence, happened: happened.trimEnd(), kept, next };
}

/**
 * What a person reads of any error, and the code that scripts and the page act on. `kept` names what a run had recorded by then.
 * Never throws: an error from elsewhere is `internal`.
 */
export function sentenceFor(error: unknown, kept?: KeptSoFar): SpokenError {
  const { code, parts } = find(error);
  return spoken(code, parts, kept);
}

/** The same for one refusal of the planner. */
export function sentenceForRefusal(refusal: PlanRefusal): SpokenError {
  return spoken(refusal.code, lookUp(refusal.code, refusal).parts);
}

/** How the command line ends after this error; 0 when there is none (`undefined`). */
export function exitCodeFor(error: unknown): ExitCode {
  return error === undefined ? 0 : find(error).exit;
}
