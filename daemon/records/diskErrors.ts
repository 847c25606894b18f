import { NightjarError } from '../errors/index.ts';

function codeOf(error: unknown): unknown {
  return error instanceof Error && 'code' in error ? error.code : undefined;
}

/** What a failed file operation means for the records: `diskFull`, or `writeFailed` with the system's reason. */
export function diskError(error: unknown, file: string): NightjarError {
  const code = codeOf(error);
  if (code === 'ENOSPC' || code === 'EDQUOT') return new NightjarError('diskFull', { directory: file }, { cause: error });
  return new NightjarError('writeFailed', { file, reason: error instanceof Error ? error.message : String(error) }, { cause: error });
}
