import Database from 'better-sqlite3';
import { NightjarError } from '../errors/index.ts';

/** What SQLite's error codes mean for the records; the whole list is at "Result and Error Codes" of its manual. */
function translated(error: InstanceType<typeof Database.SqliteError>, directory: string): Error {
  const { code, message } = error;
  const because = { cause: error };
  if (code === 'SQLITE_FULL') return new NightjarError('diskFull', { directory }, because);
  if (code === 'SQLITE_BUSY' || code.startsWith('SQLITE_BUSY_')) return new NightjarError('inUse', { directory }, because);
  // A plain error is a table or column that is not there: our statements are fixed.
  if (code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB' || code === 'SQLITE_ERROR') {
    return new NightjarError('damagedRecords', { directory, table: 'any', row: 'any', reason: message }, because);
  }
  if (code.startsWith('SQLITE_IOERR') || code.startsWith('SQLITE_READONLY') || code.startsWith('SQLITE_CANTOPEN')) {
    return new NightjarError('writeFailed', { file: directory, reason: message }, because);
  }
  return error;
}

/** Does something with the database; what SQLite throws comes out as an error of Nightjar's own. */
export function guarded<T>(directory: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    throw error instanceof Database.SqliteError ? translated(error, directory) : error;
  }
}
