import { existsSync, mkdirSync, readdirSync, renameSync, rmSync, statSync } from 'node:fs';
import { dirname, join, relative, sep } from 'node:path';
import { NightjarError } from '../../errors/index.ts';
import { absoluteFile, asideFile, isSetAside, partEnding, runFolder } from '../layout.ts';
import type { RecordsStore, RunRecord, RunState, StoredFile } from '../types.ts';
import { syncFolderNow } from '../folders.ts';
import { startSentences, type StartReport } from './startWords.ts';

/** States in which a process is at work; found at a start, that process is gone. */
const atWork: ReadonlySet<RunState> = new Set(['preflight', 'scanning', 'waiting', 'paused', 'recovering']);

interface FolderContent {
  /** Relative to the data folder. */
  readonly files: readonly string[];
  /** Absolute. */
  readonly folders: readonly string[];
}

/** Everything below the run's folder but what was set aside before. */
function contentOf(directory: string, runId: string): FolderContent {
  const root = join(directory, runFolder(runId));
  if (!existsSync(root)) return { files: [], folders: [] };
  const entries = readdirSync(root, { recursive: true, withFileTypes: true }).map((entry) => ({ entry, path: join(entry.parentPath, entry.name) }));
  const nameOf = (path: string): string => relative(directory, path).split(sep).join('/');
  return {
    files: entries.filter(({ entry, path }) => !entry.isDirectory() && !isSetAside(nameOf(path))).map(({ path }) => nameOf(path)),
    folders: [root, ...entries.filter(({ entry }) => entry.isDirectory()).map(({ path }) => path)],
  };
}

/** Files that are not there, or not as long as their record says; sizes alone, for a night has tens of thousands. */
function compareSizes(directory: string, files: readonly StoredFile[]): Pick<StartReport, 'missing' | 'otherSize'> {
  const [missing, otherSize]: [string[], string[]] = [[], []];
  for (const { file, bytes } of files) {
    const path = absoluteFile(directory, file);
    const found = path === undefined ? undefined : statSync(path, { throwIfNoEntry: false })?.size;
    if (found === undefined) missing.push(file);
    else if (found !== bytes) otherSize.push(file);
  }
  return { missing, otherSize };
}

/** A name that is not taken yet: what was set aside before stays. */
function freeName(path: string): string {
  let name = path;
  for (let n = 2; existsSync(name); n++) name = `${path}.${n}`;
  return name;
}

function setAside(directory: string, runId: string, file: string): void {
  const aside = freeName(join(directory, asideFile(runId, file)));
  mkdirSync(dirname(aside), { recursive: true });
  renameSync(join(directory, file), aside);
}

/** Does what can be done with each, and hands back those that it could be done with. */
function doneWith(files: readonly string[], work: (file: string) => void, failed: string[]): string[] {
  return files.filter((file) => {
    try {
      work(file);
      return true;
    } catch {
      failed.push(file);
      return false;
    }
  });
}

/**
 * A killed process may have made a folder and not synced the entry that leads to it; a file in it would then be gone after a power cut
 * although it was synced itself. So every folder of the run is synced once more, from the one above the data folder down.
 */
function syncRunFolders(directory: string, folders: readonly string[], failed: string[]): void {
  const above = [dirname(directory), directory, join(directory, dirname(runFolder('any')))];
  if (folders.length > 0) doneWith([...above, ...folders], syncFolderNow, failed);
}

function tidyFiles(records: RecordsStore, run: RunRecord): Omit<StartReport, 'cutOff'> {
  const { directory } = records;
  const files = records.storedFiles(run.id);
  const named = new Set(files.map(({ file }) => file));
  const content = contentOf(directory, run.id);
  const unknown = content.files.filter((file) => !named.has(file));
  const [failed, unsynced]: [string[], string[]] = [[], []];
  const removed = doneWith(unknown.filter((file) => file.endsWith(partEnding)), (file) => rmSync(join(directory, file)), failed);
  const aside = doneWith(unknown.filter((file) => !file.endsWith(partEnding)), (file) => setAside(directory, run.id, file), failed);
  syncRunFolders(directory, content.folders, unsynced);
  return { removed, setAside: aside, failed, unsynced, ...compareSizes(directory, files) };
}

/**
 * A night is recorded before its first picture is written: pictures without any night mean that its records are lost. A new night must
 * not be begun over them, or what is left can no longer be told apart.
 */
function refuseStray(directory: string): undefined {
  const root = join(directory, 'runs');
  const hasFiles = existsSync(root) && readdirSync(root, { recursive: true, withFileTypes: true }).some((entry) => entry.isFile());
  if (hasFiles) throw new NightjarError('damagedRecords', { directory, table: 'run', row: 'any', reason: 'pictures of nights lie below runs/, and there is no night in the records' });
}

/**
 * Looks at the last night when its records are opened for writing, before anything else: earlier nights came to their end before it
 * began, and `nightjar verify` looks at those. Nothing that is whole is ever deleted: whole files that no record names are set aside,
 * for they are all there is of a tile when the database was put back from an older copy; written in place, they would be replaced when
 * the tile is taken again. Halves are removed. Sizes are compared, not hashes: a night of 20,000 tiles takes about a second.
 * What was done is recorded as events of the night, what lasts only once, and handed back.
 * Throws `damagedRecords` where there are pictures and no night, and what the records throw (`diskFull`, `writeFailed`).
 */
export function checkOnStart(records: RecordsStore, nowMs: number): StartReport | undefined {
  const run = records.latestRun();
  if (!run) return refuseStray(records.directory);
  const report = { cutOff: atWork.has(run.state) ? run.state : undefined, ...tidyFiles(records, run) };
  if (report.cutOff !== undefined) records.setRunState(run.id, 'failed', 'cutOff', nowMs);
  const told = new Set(records.events(run.id).map(({ text }) => text));
  const place = { tiles: records.tileCount(run.id), of: run.plan.tileCount };
  for (const { kind, text, isLasting } of startSentences(report, place)) if (!isLasting || !told.has(text)) records.addEvent(run.id, { atMs: nowMs, kind, text });
  return report;
}
