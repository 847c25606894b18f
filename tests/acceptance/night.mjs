import { createHash } from 'node:crypto';
import { existsSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import Database from 'better-sqlite3';
import { parse, stringify } from 'yaml';

// What the acceptance scripts share: a small simulated night in a folder of its own, `nightjar scan` as a real process, and a look
// at the records past the program, with SQLite alone.

const top = fileURLToPath(new URL('../..', import.meta.url));
const command = join(top, 'daemon/bin.js');

/** Writes an instrument file and a run sheet, made from the demo's by `change`, into a new temporary folder. */
export function makeNight(name, change) {
  const folder = mkdtempSync(join(tmpdir(), `nightjar-${name}-`));
  const instrument = parse(readFileSync(join(top, 'daemon/demo/instrument.yaml'), 'utf8'));
  const runSheet = parse(readFileSync(join(top, 'daemon/demo/tonight.yaml'), 'utf8'));
  change(instrument, runSheet);
  const files = { folder, instrument: join(folder, 'instrument.yaml'), runSheet: join(folder, 'run-sheet.yaml') };
  writeFileSync(files.instrument, stringify(instrument));
  writeFileSync(files.runSheet, stringify(runSheet));
  return files;
}

/** Starts `nightjar scan`; `ended` resolves with its exit code or signal and what it wrote. */
export function startScan(night, data, extra = [], nodeOptions = [], environment = {}) {
  const child = spawn(process.execPath, [...nodeOptions, command, 'scan', night.runSheet, '--instrument', night.instrument, '--data', data, ...extra], { stdio: ['ignore', 'pipe', 'pipe'], env: { ...process.env, ...environment } });
  let said = '';
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (bytes) => (said = (said + bytes).slice(-4000)));
  const ended = new Promise((resolve, reject) => {
    child.on('error', reject);
    child.on('close', (code, signal) => resolve({ code, signal, said }));
  });
  return { child, ended };
}

/** Calls `look` with the records opened for reading; `undefined` when there is no night in them yet. */
export function withRecords(data, look) {
  const file = join(data, 'nightjar.sqlite');
  if (!existsSync(file)) return undefined;
  const db = new Database(file, { readonly: true, timeout: 5000 });
  try {
    const hasTables = db.prepare("SELECT count(*) FROM sqlite_schema WHERE name = 'run'").pluck().get() === 1;
    const run = hasTables ? db.prepare('SELECT * FROM run ORDER BY seq DESC LIMIT 1').get() : undefined;
    return run === undefined ? undefined : look(db, run);
  } finally {
    db.close();
  }
}

export function tilesRecorded(data) {
  return withRecords(data, (db, run) => db.prepare('SELECT count(*) FROM tile WHERE run_id = ?').pluck().get(run.id)) ?? 0;
}

/** Counts recorded tiles over and over through one connection; 0 until there are records. */
export function tileCounter(data) {
  let count;
  return () => {
    if (count) return count.get();
    if (!existsSync(join(data, 'nightjar.sqlite')) || tilesRecorded(data) === 0) return 0;
    count = new Database(join(data, 'nightjar.sqlite'), { readonly: true }).prepare('SELECT count(*) FROM tile').pluck();
    return count.get();
  };
}

/** Everything of the last night that two runs of the same sheet must have in common. */
export function readNight(data) {
  return withRecords(data, (db, run) => ({
    state: run.state,
    planned: JSON.parse(run.plan).chips.flatMap((chip) => chip.tiles),
    tiles: db.prepare('SELECT tile, chip, outcome, reason FROM tile WHERE run_id = ? ORDER BY tile').all(run.id),
    flakes: db.prepare('SELECT flake FROM flake WHERE run_id = ?').pluck().all(run.id).map((text) => JSON.parse(text)),
  }));
}

/** What is wrong with the records and the files that they name; nothing after any kill. */
export function damage(data) {
  return withRecords(data, (db) => {
    const found = db.prepare('PRAGMA integrity_check').pluck().all().filter((line) => line !== 'ok');
    found.push(...db.prepare('PRAGMA foreign_key_check').all().map((row) => `foreign key: ${JSON.stringify(row)}`));
    for (const { path, bytes, sha256 } of db.prepare('SELECT path, bytes, sha256 FROM file').all()) found.push(...fileDamage(join(data, path), path, bytes, sha256));
    return found;
  }) ?? [];
}

function fileDamage(file, path, bytes, sha256) {
  if (!existsSync(file)) return [`${path}: a record names it, but it is not there`];
  const content = readFileSync(file);
  if (content.length !== bytes) return [`${path}: ${content.length} bytes, recorded were ${bytes}`];
  return createHash('sha256').update(content).digest('hex') === sha256 ? [] : [`${path}: not the bytes that were recorded`];
}

/** Numbers from `--name value` pairs on the command line. */
export function options(defaults) {
  const words = process.argv.slice(2);
  return Object.fromEntries(Object.entries(defaults).map(([name, value]) => {
    const at = words.indexOf(`--${name}`);
    return [name, at < 0 ? value : Number(words[at + 1])];
  }));
}
