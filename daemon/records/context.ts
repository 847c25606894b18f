import type Database from 'better-sqlite3';
import type { z } from 'zod';
import { NightjarError } from '../errors/index.ts';
import { guarded } from './guard.ts';

/** What every table's code works with. */
export interface RecordsContext {
  readonly db: Database.Database;
  readonly directory: string;
}

/** Reads one row through its schema. Throws `damagedRecords` with the table, the row and what is wrong with it. */
export function readRow<T>({ directory }: RecordsContext, schema: z.ZodType<T>, table: string, row: unknown): T {
  const result = schema.safeParse(row);
  if (result.success) return result.data;
  const issue = result.error.issues[0];
  const reason = issue ? `${issue.path.map(String).join('.')}: ${issue.message}` : 'not readable';
  throw new NightjarError('damagedRecords', { directory, table, row: rowName(row), reason }, { cause: result.error });
}

/** The row's key as far as it can be told. */
export function rowName(row: unknown): string {
  if (row === null || typeof row !== 'object') return 'unknown';
  const keys = Object.entries(row).filter(([name]) => ['run_id', 'id', 'chip', 'tile', 'flake_id', 'seq', 'path'].includes(name));
  return keys.map(([name, value]) => `${name} ${String(value)}`).join(', ');
}

/** A prepared statement that changes something; SQLite's errors come out as Nightjar's own. */
export function writer(context: RecordsContext, sql: string): (values: Readonly<Record<string, unknown>>) => number {
  const statement = context.db.prepare<[Readonly<Record<string, unknown>>]>(sql);
  return (values) => guarded(context.directory, () => statement.run(values).changes);
}

/** A prepared query of many rows, each through the schema. */
export function reader<T>(context: RecordsContext, table: string, schema: z.ZodType<T>, sql: string): (...keys: readonly (string | number)[]) => T[] {
  const statement = context.db.prepare(sql);
  return (...keys) => guarded(context.directory, () => statement.all(...keys)).map((row) => readRow(context, schema, table, row));
}
