import Database from 'better-sqlite3';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { NightjarError } from '../errors/index.ts';
import { guarded } from './guard.ts';
import { databaseFile } from './layout.ts';
import { migrations, schemaSql, schemaVersion } from './schema.ts';

/** How long a statement waits for a reader that holds a lock, in ms. */
const busyTimeoutMs = 5000;

export interface DatabaseOptions {
  readonly readOnly: boolean;
  /** The database grows no further than this many bytes: then `diskFull`. Left out, the disk is the limit. */
  readonly maxBytes?: number;
}

function numberOf(db: Database.Database, pragma: string): number {
  return Number(db.pragma(pragma, { simple: true }));
}

/** Throws `otherVersion` for records that cannot be brought to our version, or may not be because they are only read. */
function checkVersion(db: Database.Database, directory: string, readOnly: boolean): void {
  const found = numberOf(db, 'user_version');
  const fits = found === schemaVersion || (!readOnly && migrations.has(found));
  if (!fits) throw new NightjarError('otherVersion', { directory, found, wanted: schemaVersion });
}

/** Brings older records to our version: all steps in one transaction, so that a power cut leaves the old ones whole. */
function migrate(db: Database.Database): void {
  db.transaction(() => {
    for (let version = numberOf(db, 'user_version'); version < schemaVersion; version++) {
      db.exec(migrations.get(version) ?? '');
      db.pragma(`user_version = ${version + 1}`);
    }
  }).immediate();
}

function isEmpty(db: Database.Database): boolean {
  return numberOf(db, 'user_version') === 0 && db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get() === 0;
}

function createTables(db: Database.Database): void {
  db.transaction(() => {
    db.exec(schemaSql);
    db.pragma(`user_version = ${schemaVersion}`);
  }).immediate();
}

function setUpForWriting(db: Database.Database, maxBytes: number | undefined): void {
  db.pragma('journal_mode = WAL');
  db.pragma('synchronous = FULL');
  db.pragma('foreign_keys = ON');
  if (maxBytes !== undefined) db.pragma(`max_page_count = ${Math.max(1, Math.floor(maxBytes / numberOf(db, 'page_size')))}`);
}

/** Nothing is written to a database before its version is known to be ours, or it is known to be new. */
function setUp(db: Database.Database, directory: string, options: DatabaseOptions): void {
  const fresh = !options.readOnly && isEmpty(db);
  if (!fresh) checkVersion(db, directory, options.readOnly);
  if (!options.readOnly) setUpForWriting(db, options.maxBytes);
  if (fresh) createTables(db);
  else if (!options.readOnly && numberOf(db, 'user_version') < schemaVersion) migrate(db);
}

/**
 * Opens the database of a data folder; its tables are made when there are none (not for reading only).
 * Throws `otherVersion`, `damagedRecords`, `diskFull`, `writeFailed`, and `noRun` when there is nothing to read.
 */
export function openDatabase(directory: string, options: DatabaseOptions): Database.Database {
  const file = join(directory, databaseFile);
  if (options.readOnly && !existsSync(file)) throw new NightjarError('noRun', {});
  return guarded(directory, () => {
    const db = new Database(file, { readonly: options.readOnly, timeout: busyTimeoutMs });
    try {
      setUp(db, directory, options);
      return db;
    } catch (error) {
      db.close();
      throw error;
    }
  });
}
