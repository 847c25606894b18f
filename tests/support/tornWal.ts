import Database from 'better-sqlite3';
import { mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { openRecords } from '../../daemon/records/index.ts';
import { commit, runRecord } from '../daemon/records/samples.ts';

/**
 * The database after a power cut, by cutting and spoiling copies of its write-ahead log. Format of the log (a header of 32 bytes, then
 * frames of 24 bytes and a page) and what a commit promises: "WAL-mode File Format" and "Write-Ahead Logging", sqlite.org, from memory.
 */
export interface DatabaseState {
  readonly database: Uint8Array;
  readonly log: Uint8Array;
}

/** A state that a power cut may leave, and the tiles that may be recorded in it: no fewer, no more. */
export interface Cut extends DatabaseState {
  readonly how: string;
  readonly tiles: readonly number[];
}

/** A night of some tiles whose log was never checkpointed. */
export interface LoggedNight extends DatabaseState {
  /** Length of the log once so many tiles had been recorded, their commits having returned. */
  readonly endBytes: readonly number[];
  /** The database file once the whole log has been brought into it. */
  readonly checkpointed: Uint8Array;
  /** The log after one more tile, which was written over the beginning of the old log. */
  readonly restarted: Uint8Array;
}

/** Whole numbers from 0 to below `count`. */
export type Draw = (count: number) => number;

const headerBytes = 32;
const frameBytes = 24 + 4096;
const sectorBytes = 512;
export const runId = runRecord.id;

const paths = (folder: string): readonly [string, string] => [join(folder, 'nightjar.sqlite'), join(folder, 'nightjar.sqlite-wal')];

/** Plain bytes: a slice of a Buffer would be no copy. */
const bytesOf = (path: string): Uint8Array => new Uint8Array(readFileSync(path));

function read(folder: string): DatabaseState {
  const [database, log] = paths(folder);
  return { database: bytesOf(database), log: bytesOf(log) };
}

function put(folder: string, { database, log }: DatabaseState): void {
  mkdirSync(folder, { recursive: true });
  const [databasePath, logPath] = paths(folder);
  writeFileSync(databasePath, database);
  writeFileSync(logPath, log);
}

/** Brings the whole log into the database file; the next commit begins the log anew. */
function checkpoint(folder: string): void {
  const db = new Database(paths(folder)[0]);
  db.pragma('wal_checkpoint(RESTART)');
  db.close();
}

/** Records so many tiles in a folder, which is removed again. */
export function logNight(folder: string, tiles: number): LoggedNight {
  const records = openRecords(folder);
  records.beginRun(runRecord);
  const logLength = (): number => statSync(paths(folder)[1]).size;
  const endBytes = [logLength()];
  for (let tile = 0; tile < tiles; tile++) {
    records.commitTile(runId, commit(tile));
    endBytes.push(logLength());
  }
  const { database, log } = read(folder);
  checkpoint(folder);
  const checkpointed = bytesOf(paths(folder)[0]);
  records.commitTile(runId, commit(tiles));
  const restarted = bytesOf(paths(folder)[1]);
  records.close();
  rmSync(folder, { recursive: true });
  return { database, log, endBytes, checkpointed, restarted };
}

function isSame(a: Uint8Array, b: Uint8Array): boolean {
  return Buffer.compare(a, b) === 0;
}

/** Each sector of `to` between two places, old or new or half of each, over what was there. */
function mixed(from: Uint8Array, to: Uint8Array, beginBytes: number, endBytes: number, draw: Draw): Uint8Array {
  const disk = new Uint8Array(Math.max(from.length, endBytes));
  disk.set(from);
  for (let at = beginBytes; at < endBytes; at += sectorBytes) {
    const end = Math.min(at + sectorBytes, endBytes);
    const reaches = [at, end, end, end, at + draw(end - at)][draw(5)] ?? at;
    disk.set(to.subarray(at, reaches), at);
  }
  return disk;
}

/** The last commit had returned, or one more was under way: the log ends somewhere in what that one wrote. */
export function cutLog({ database, log, endBytes }: LoggedNight, tiles: number, atBytes: number): Cut {
  const isWhole = atBytes >= (endBytes[tiles + 1] ?? Infinity);
  return { how: `the log cut at byte ${atBytes}, after tile ${tiles - 1}`, database, log: log.slice(0, atBytes), tiles: [isWhole ? tiles + 1 : tiles] };
}

/** The places where a commit's part of the log can be cut: at every frame, and at random in each. */
export function cutsOf({ endBytes }: LoggedNight, tiles: number, draw: Draw): number[] {
  const [begin, end] = [endBytes[tiles] ?? 0, endBytes[tiles + 1] ?? 0];
  const frames = Array.from({ length: (end - begin) / frameBytes + 1 }, (_, n) => begin + n * frameBytes);
  return [...frames, ...frames.slice(0, -1).map((at) => at + 1 + draw(frameBytes - 1))];
}

/** What the commit under way wrote has come to the disk in any order, sector by sector. */
function tornCommit({ database, log, endBytes }: LoggedNight, draw: Draw): Cut {
  const tiles = draw(endBytes.length - 1);
  const [begin, end] = [endBytes[tiles] ?? 0, endBytes[tiles + 1] ?? 0];
  const torn = mixed(log.slice(0, begin), log, begin, end, draw);
  return { how: `the commit of tile ${tiles} torn`, database, log: torn, tiles: [isSame(torn, log.subarray(0, end)) ? tiles + 1 : tiles] };
}

/** A byte of the log has rotted on the disk: what was recorded before its frame still stands, and nothing by halves. */
function rotten({ database, log, endBytes }: LoggedNight, draw: Draw): Cut {
  const first = endBytes[0] ?? headerBytes;
  const at = first + draw(log.length - first);
  const frame = headerBytes + Math.floor((at - headerBytes) / frameBytes) * frameBytes;
  const spoilt = log.slice();
  spoilt[at] = (spoilt[at] ?? 0) ^ (1 + draw(255));
  return { how: `byte ${at} of the log changed`, database, log: spoilt, tiles: [endBytes.filter((end) => end <= frame).length - 1] };
}

/** The log was being brought into the database file, which is half old and half new; the log is whole, for it was synced before. */
function tornCheckpoint({ database, log, endBytes, checkpointed }: LoggedNight, draw: Draw): Cut {
  const torn = mixed(database, checkpointed, 0, checkpointed.length, draw).slice(0, database.length + draw(checkpointed.length - database.length + 1));
  return { how: 'a checkpoint torn', database: torn, log, tiles: [endBytes.length - 1] };
}

/** The log was begun anew: its header is synced before frames are written over old ones. */
function tornRestart({ log, endBytes, checkpointed, restarted }: LoggedNight, draw: Draw): Cut {
  const tiles = endBytes.length - 1;
  const header = mixed(log, restarted, 0, headerBytes, draw);
  if (draw(4) === 0) return { how: 'the header of a new log torn', database: checkpointed, log: header, tiles: [tiles] };
  const begun = mixed(log, restarted, 0, headerBytes, () => 1);
  const torn = mixed(begun, restarted, headerBytes, restarted.length, draw);
  // Bytes beyond the new commit are those of the old log in both.
  return { how: 'the first commit of a new log torn', database: checkpointed, log: torn, tiles: [isSame(torn, restarted) ? tiles + 1 : tiles] };
}

/** One state that a power cut, or for a rotten byte the disk itself, may leave. */
export function drawCut(night: LoggedNight, draw: Draw): Cut {
  const ways = [tornCommit, tornCommit, tornCommit, rotten, tornCheckpoint, tornRestart];
  return (ways[draw(ways.length)] ?? tornCommit)(night, draw);
}

/** Opens the state as the next start would, checks all of it, and records one more tile. Names what is wrong. */
export function wrongWith(cut: Cut, folder: string): string[] {
  put(folder, cut);
  const wrong: string[] = [];
  const records = openRecords(folder);
  try {
    const tiles = records.tiles(runId).map(({ tile }) => tile);
    const flakes = records.flakes(runId).map(({ bestTile }) => bestTile);
    if (!cut.tiles.includes(tiles.length)) wrong.push(`${tiles.length} tiles are recorded, not ${cut.tiles.join(' or ')}`);
    if (tiles.some((tile, n) => tile !== n)) wrong.push(`the tiles are ${tiles.join()}`);
    if (flakes.join() !== tiles.join()) wrong.push(`the flakes are those of ${flakes.join()}`);
    wrong.push(...records.examine().problems.map(({ where, what }) => `${where}: ${what}`));
    if (wrong.length === 0) records.commitTile(runId, commit(tiles.length));
  } finally {
    records.close();
    rmSync(folder, { recursive: true, force: true });
  }
  return wrong.map((what) => `${cut.how}: ${what}`);
}
