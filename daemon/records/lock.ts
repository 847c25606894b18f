import Database from 'better-sqlite3';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { guarded } from './guard.ts';
import { lockFile } from './layout.ts';

/** How long a writer waits for the lock, in ms: somebody who only looks whether it is taken holds it for far less. */
const patienceMs = 250;

/**
 * Takes the data folder for one writer: an exclusive transaction on an empty database beside the real one. The operating system lets
 * go of it when the process ends, however it ends, and readers of the records are not kept out. Throws `inUse` when it is taken.
 * @returns how to give it back
 */
export function takeLock(directory: string): () => void {
  return guarded(directory, () => {
    const lock = new Database(join(directory, lockFile), { timeout: patienceMs });
    try {
      lock.exec('BEGIN EXCLUSIVE');
    } catch (error) {
      lock.close();
      throw error;
    }
    return () => lock.close();
  });
}

/** Whether somebody holds the folder's lock now. Leaves it as it is. */
export function isWrittenTo(directory: string): boolean {
  const file = join(directory, lockFile);
  if (!existsSync(file)) return false;
  const lock = new Database(file, { readonly: true, timeout: 0 });
  try {
    lock.prepare('SELECT count(*) FROM sqlite_schema').get();
    return false;
  } catch {
    return true;
  } finally {
    lock.close();
  }
}
