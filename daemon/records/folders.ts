import { closeSync, fsyncSync, mkdirSync, openSync } from 'node:fs';
import { dirname } from 'node:path';

/** Makes the entries of a folder durable. Throws what the system throws. */
export function syncFolderNow(path: string): void {
  const folder = openSync(path, 'r');
  try {
    fsyncSync(folder);
  } finally {
    closeSync(folder);
  }
}

/**
 * Makes a folder with all above it, and the entries that lead to new ones durable: SQLite syncs the folder that its file lies in, and
 * no other. Throws what the system throws.
 */
export function makeFolderNow(path: string): void {
  const first = mkdirSync(path, { recursive: true });
  if (first === undefined) return;
  for (let made = path; made.length >= first.length; made = dirname(made)) syncFolderNow(dirname(made));
}
