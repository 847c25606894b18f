import Database from 'better-sqlite3';
import { join } from 'node:path';
import { guarded } from './guard.ts';
import { lockFile } from './layout.ts';

/**
 * Takes the data folder for one writer: an exclusive transaction on an empty database beside the real one. The operating system lets
 * go of it when the process ends, however it ends, and readers of the records are not kept out. Throws `inUse` at once when it is taken.
 * @returns how to give it back
 */
export function takeLock(directory: string): () => void {
  return guarded(directory, () => {
    const lock = new Database(join(directory, lockFile), { timeout: 0 });
    try {
      lock.exec('BEGIN EXCLUSIVE');
    } catch (error) {
      lock.close();
      throw error;
    }
    return () => lock.close();
  });
}
