// What everything that scores frame sets shares: the built classifier, the sets of a folder, and score.py.
import { execFileSync } from 'node:child_process';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

const python = process.env.NIGHTJAR_PYTHON ?? '/usr/bin/python3';

/** The URL of a compiled file, given as below the repository's top. */
export const built = (file) => new URL(`../../.build/${file}`, import.meta.url).href;

/** The names of the frame sets with truth in a folder, in order. */
export const setsOf = (directory) =>
  readdirSync(directory).filter((name) => existsSync(join(directory, name, 'frame-set.json')) && existsSync(join(directory, name, 'truth.json'))).sort();

export const readJson = (file) => JSON.parse(readFileSync(file, 'utf8'));

/** What measures frames: two workers, or this thread. Close it afterwards. */
export async function openMeasurer(inProcess = false) {
  if (inProcess) {
    const { measureFrame } = await import(built('daemon/vision/measureFrame.js'));
    return { measure: async (input) => measureFrame(input), close: async () => {} };
  }
  const { WorkerPool } = await import(built('daemon/classify/pool.js'));
  const { createSystemClock } = await import(built('drivers/clock/systemClock.js'));
  const pool = new WorkerPool(2, createSystemClock());
  return { measure: async (input) => (await pool.run({ tile: 0, input })).measurement, close: () => pool.close() };
}

/** Classifies one set of a folder with the built classifier. */
export async function classifySet(directory, set, measure) {
  const { classifyFrameSet } = await import(built('daemon/classify/frameSet.js'));
  return classifyFrameSet(join(directory, set), { inFlight: 3 }, measure);
}

/**
 * Runs the folder's score.py.
 * @returns its figures (one object for each line of JSON), and what `-v` says was missed, false or duplicate, line by line
 */
export function score(directory, truthFile, flakesFile, ...options) {
  const text = execFileSync(python, [join(directory, 'score.py'), truthFile, flakesFile, ...options], { encoding: 'utf8', maxBuffer: 1 << 26 });
  const lines = text.trim().split('\n');
  const figures = lines.filter((line) => line.startsWith('{')).map((line) => JSON.parse(line));
  return { figures, notes: lines.filter((line) => !line.startsWith('{')) };
}

/** A table with even columns, as one text. */
export function tableText(head, rows) {
  const all = [head, ...rows].map((row) => row.map(String));
  const widths = head.map((_, i) => Math.max(...all.map((row) => (row[i] ?? '').length)));
  return all.map((row) => row.map((cell, i) => cell.padEnd(widths[i])).join('  ').trimEnd()).join('\n');
}
