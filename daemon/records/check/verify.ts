import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { hasCode, NightjarError } from '../../errors/index.ts';
import { databaseFile, isSetAside, partEnding } from '../layout.ts';
import { isWrittenTo } from '../lock.ts';
import { openRecords } from '../open.ts';
import type { RecordsStore } from '../types.ts';
import { fileProblems, filesOnDisk } from './files.ts';
import type { Problem } from './problem.ts';

/** What is on the disk against what is in the records. All names of files are relative to the data folder. */
export interface VerifyReport {
  readonly sound: boolean;
  readonly filesChecked: number;
  readonly rowsRead: number;
  readonly problems: readonly Problem[];
  /** Written by halves when the power went; safe to delete. Harmless. */
  readonly leftovers: readonly string[];
  /** Whole, but named by no record: written just before the process ended, or put there by hand. Harmless. */
  readonly orphans: readonly string[];
  /** Orphans that a start has moved out of the way. Harmless. */
  readonly setAside: readonly string[];
  /** A daemon writes to the folder: what no record names may be named in a moment, and is not listed. */
  readonly isInUse: boolean;
}

export interface VerifyOptions {
  /** Decodes every picture too; without it, its bytes are compared with their recorded hash alone. */
  readonly deep?: boolean;
}

function reportOf(problems: readonly Problem[], counts: Pick<VerifyReport, 'filesChecked' | 'rowsRead' | 'isInUse'>, unknown: readonly string[]): VerifyReport {
  const [aside, others] = [unknown.filter(isSetAside), unknown.filter((file) => !isSetAside(file))];
  return {
    sound: problems.length === 0,
    ...counts,
    problems,
    leftovers: others.filter((file) => file.endsWith(partEnding)),
    orphans: others.filter((file) => !file.endsWith(partEnding)),
    setAside: aside,
  };
}

/**
 * Checks that every row of the records can be read and fits the others and the plan, that every file named in them is on the disk with
 * the recorded content, that the database is sound, and names what nobody names. Changes nothing.
 * @param isInUse somebody writes to the folder: what no record names cannot be judged then
 */
export async function verifyRecords(records: RecordsStore, { deep = false }: VerifyOptions = {}, isInUse = false): Promise<VerifyReport> {
  const { directory } = records;
  const examination = records.examine();
  const { files, rowsRead } = examination;
  const problems = [...examination.problems, ...(await fileProblems(directory, examination, deep))];
  const known = new Set(files.map(({ file }) => file));
  const unknown = isInUse ? [] : (await filesOnDisk(directory)).filter((file) => !known.has(file));
  return reportOf(problems, { filesChecked: files.length, rowsRead, isInUse }, unknown);
}

/** A folder whose records cannot even be opened: with pictures in it, they are lost; without, there never was a night. */
async function withoutRecords(directory: string, error: unknown): Promise<VerifyReport> {
  const nothing = { filesChecked: 0, rowsRead: 0, isInUse: false };
  if (hasCode(error, 'damagedRecords')) return reportOf([{ kind: 'database', where: databaseFile, what: error.details.reason }], nothing, []);
  if (!hasCode(error, 'noRun')) throw error;
  const pictures = await filesOnDisk(directory);
  if (pictures.length === 0) throw error;
  const what = existsSync(join(directory, databaseFile)) ? 'no night is in it' : 'it is not there';
  return reportOf([{ kind: 'noDatabase', where: databaseFile, what: `${what}, and ${pictures.length} files of nights lie below runs/` }], nothing, pictures);
}

/** An empty database is what a first start leaves that was cut off before its first night: the same as none. */
function openToLook(directory: string): RecordsStore {
  try {
    const records = openRecords(directory, { readOnly: true });
    if (records.runIds().length > 0) return records;
    records.close();
  } catch (error) {
    if (!hasCode(error, 'otherVersion') || error.details.found !== 0) throw error;
  }
  throw new NightjarError('noRun', {});
}

/**
 * Checks a data folder, beside a daemon that writes to it or without one. Rejects with `noSuchFile` or `noRun` when there is nothing to
 * check, `otherVersion` for records of another Nightjar.
 */
export async function verifyFolder(directory: string, options: VerifyOptions = {}): Promise<VerifyReport> {
  if (!existsSync(directory)) throw new NightjarError('noSuchFile', { file: directory });
  let records: RecordsStore;
  try {
    records = openToLook(directory);
  } catch (error) {
    return withoutRecords(directory, error);
  }
  try {
    return await verifyRecords(records, options, isWrittenTo(directory));
  } finally {
    records.close();
  }
}
