import { z } from 'zod';
import { sentenceFor } from '../../errors/index.ts';
import { closeUpRow } from '../closeUpTable.ts';
import { rowName, type RecordsContext } from '../context.ts';
import { cropRow, flakeRow } from '../flakeTable.ts';
import { guarded } from '../guard.ts';
import { knownFlakeRow } from '../knownFlakeTable.ts';
import { chipRow, eventRow, runRow, transitionRow } from '../runTable.ts';
import { secondVerdictRow } from '../secondVerdictTable.ts';
import { fileRow, tileRow } from '../tileTable.ts';
import type { StoredFile } from '../types.ts';
import { verdictRow } from '../verdictTable.ts';
import type { Examination } from './examination.ts';
import { judgeNight } from './judge.ts';
import { noFactsYet, type NightFacts } from './nightFacts.ts';
import type { Problem } from './problem.ts';

/** More lines than this of SQLite's own check say nothing new. */
const mostIntegrityLines = 20;

const owned = z.object({ run_id: z.string() });

/** Reads every row of every table through its schema; what cannot be read is named and passed over. */
class TableReader {
  readonly problems: Problem[] = [];
  readonly nights = new Map<string, NightFacts>();
  rowsRead = 0;
  private readonly context: RecordsContext;

  constructor(context: RecordsContext) {
    this.context = context;
  }

  /** Calls `take` with each sound row and the night that it belongs to, if that is known. */
  read<T>(table: string, schema: z.ZodType<T>, take: (value: T, night: NightFacts | undefined) => void): void {
    const { db, directory } = this.context;
    try {
      guarded(directory, () => {
        for (const row of db.prepare(`SELECT * FROM "${table}" ORDER BY rowid`).iterate()) {
          this.rowsRead++;
          const value = this.understood(table, schema, row);
          if (value !== undefined) take(value, this.nights.get(owned.safeParse(row).data?.run_id ?? ''));
        }
      });
    } catch (error) {
      this.problems.push({ kind: 'database', where: `table ${table}`, what: sentenceFor(error).happened });
    }
  }

  private understood<T>(table: string, schema: z.ZodType<T>, row: unknown): T | undefined {
    const result = schema.safeParse(row);
    if (result.success) return result.data;
    const [issue] = result.error.issues;
    this.problems.push({ kind: 'unreadableRow', where: `table ${table}, ${rowName(row)}`, what: issue ? `${issue.path.map(String).join('.')}: ${issue.message}` : 'not readable' });
    return undefined;
  }
}

const databaseProblem = (error: unknown): Problem => ({ kind: 'database', where: 'nightjar.sqlite', what: sentenceFor(error).happened });

/** What SQLite finds wrong in its own file, and rows that name rows which are not there. */
function integrity({ db, directory }: RecordsContext): Problem[] {
  const lines = (sql: string): string[] => guarded(directory, () => db.prepare(sql).pluck().all()).map(String);
  try {
    const own = lines(`PRAGMA integrity_check(${mostIntegrityLines})`).filter((line) => line !== 'ok');
    const parents = lines('SELECT DISTINCT "table" || \' names a missing \' || parent FROM pragma_foreign_key_check');
    return [
      ...own.map((what): Problem => ({ kind: 'database', where: 'nightjar.sqlite', what })),
      ...parents.map((what): Problem => ({ kind: 'dangling', where: 'nightjar.sqlite', what })),
    ];
  } catch (error) {
    return [databaseProblem(error)];
  }
}

function readTables(reader: TableReader, files: StoredFile[]): void {
  reader.read('run', runRow, (run) => reader.nights.set(run.id, noFactsYet(run)));
  reader.read('file', fileRow, (file) => files.push(file));
  reader.read('transition', transitionRow, (each, night) => night?.transitions.push(each));
  reader.read('chip', chipRow, ({ chip }, night) => night?.chips.push(chip));
  reader.read('tile', tileRow, ({ tile, chip, outcome, reason, pictureFile }, night) =>
    night?.tiles.push({ tile, chip, outcome, ...(reason === undefined ? {} : { reason }), ...(pictureFile === undefined ? {} : { pictureFile }) }));
  reader.read('flake', flakeRow, ({ id, chip, bestTile, tiles }, night) => night?.flakes.push({ id, chip, bestTile, tiles }));
  reader.read('crop', cropRow, (crop, night) => night?.crops.push(crop));
  reader.read('close_up', closeUpRow, (closeUp, night) => night?.closeUps.push(closeUp));
  reader.read('verdict', verdictRow, ({ seq, flakeId, chip, atUm }, night) => night?.verdicts.push({ seq, flakeId, chip, atUm }));
  reader.read('known_flake', knownFlakeRow, () => undefined);
  reader.read('second_verdict', secondVerdictRow, () => undefined);
  reader.read('event', eventRow, () => undefined);
}

function sizesOf(nights: Iterable<NightFacts>): Examination['sizes'] {
  const sizes = new Map<string, { readonly widthPx: number; readonly heightPx: number }>();
  for (const { crops, closeUps } of nights) {
    for (const { file, widthPx, heightPx } of crops) sizes.set(file, { widthPx, heightPx });
    for (const each of closeUps) if (each.outcome === 'done') sizes.set(each.picture.file, { widthPx: each.picture.widthPx, heightPx: each.picture.heightPx });
  }
  return sizes;
}

/** Checks the whole database and reads all of it, as it is at one moment: a daemon may go on writing meanwhile. Changes nothing. */
export function examineTables(context: RecordsContext): Examination {
  const reader = new TableReader(context);
  const files: StoredFile[] = [];
  const problems = ofOneMoment(context, () => {
    const found = integrity(context);
    readTables(reader, files);
    return found;
  });
  const known = new Set(files.map(({ file }) => file));
  const judged = [...reader.nights.values()].flatMap((night) => judgeNight(night, known));
  return { problems: [...problems, ...reader.problems, ...judged], rowsRead: reader.rowsRead, files, sizes: sizesOf(reader.nights.values()) };
}

/** Reads inside one transaction. A damaged file can let every read pass and still refuse the transaction's end; that is a finding too. */
function ofOneMoment({ db, directory }: RecordsContext, read: () => Problem[]): Problem[] {
  const found: Problem[] = [];
  try {
    guarded(directory, () => db.transaction(() => found.push(...read()))());
  } catch (error) {
    found.push(databaseProblem(error));
  }
  return found;
}
