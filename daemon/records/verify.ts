import { readdir, readFile } from 'node:fs/promises';
import { join, relative, sep } from 'node:path';
import { sha256 } from './fingerprint.ts';
import { absoluteFile, partEnding } from './layout.ts';
import type { RecordsStore, StoredFile } from './types.ts';

/** What is on the disk against what is in the records. All names are relative to the data folder. */
export interface VerifyReport {
  readonly sound: boolean;
  readonly filesChecked: number;
  /** Named by a record, not on the disk. */
  readonly missing: readonly string[];
  /** On the disk with another content than was recorded. */
  readonly changed: readonly string[];
  /** Written by halves when the power went; safe to delete. Harmless. */
  readonly leftovers: readonly string[];
  /** Whole, but named by no record: written just before the process ended, or put there by hand. Harmless. */
  readonly orphans: readonly string[];
  /** What the database finds wrong with itself. */
  readonly database: readonly string[];
}

type Verdict = 'same' | 'missing' | 'changed';

async function verdictOn(directory: string, file: StoredFile): Promise<Verdict> {
  const path = absoluteFile(directory, file.file);
  if (path === undefined) return 'missing';
  try {
    const bytes = await readFile(path);
    return bytes.length === file.bytes && sha256(bytes) === file.sha256 ? 'same' : 'changed';
  } catch {
    return 'missing';
  }
}

/** All files below `runs`, sorted; none when there is no such folder. */
async function filesOnDisk(directory: string): Promise<string[]> {
  const entries = await readdir(join(directory, 'runs'), { recursive: true, withFileTypes: true }).catch(() => []);
  return entries
    .filter((entry) => !entry.isDirectory())
    .map((entry) => relative(directory, join(entry.parentPath, entry.name)).split(sep).join('/'))
    .sort();
}

/**
 * Checks that every file named in the records is on the disk with the recorded content, that the database is sound, and names what
 * nobody names. One file at a time is in memory. Changes nothing.
 */
export async function verifyRecords(records: RecordsStore): Promise<VerifyReport> {
  const { directory } = records;
  const named = records.runIds().flatMap((runId) => records.storedFiles(runId));
  const missing: string[] = [];
  const changed: string[] = [];
  for (const file of named) {
    const verdict = await verdictOn(directory, file);
    if (verdict === 'missing') missing.push(file.file);
    if (verdict === 'changed') changed.push(file.file);
  }
  const known = new Set(named.map(({ file }) => file));
  const unknown = (await filesOnDisk(directory)).filter((file) => !known.has(file));
  const database = records.integrityProblems();
  return {
    sound: missing.length + changed.length + database.length === 0,
    filesChecked: named.length,
    missing,
    changed,
    leftovers: unknown.filter((file) => file.endsWith(partEnding)),
    orphans: unknown.filter((file) => !file.endsWith(partEnding)),
    database,
  };
}
