import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { randomStream } from '../../../simulators/random.ts';
import { cutLog, cutsOf, drawCut, logNight, wrongWith, type LoggedNight } from '../../support/tornWal.ts';
import { folders } from './samples.ts';

/**
 * Protects: a power cut anywhere in a commit, a checkpoint or the beginning of a new log leaves every tile whose commit had returned, and
 * no half of another. The promise is SQLite's ("Write-Ahead Logging", synchronous=FULL); that our use of it keeps it is what is tried.
 * The long run of the same: tests/acceptance/tornWrites.mjs.
 */

vi.setConfig({ testTimeout: 120_000 });

const { make, clear } = folders();
afterAll(clear);

const tiles = 5;
let night: LoggedNight;
let work: string;
beforeAll(() => {
  work = make();
  night = logNight(join(work, 'night'), tiles);
});

describe('a power cut while a tile is committed', () => {
  it('at every frame of the log and at random between: the tile is there whole, or not at all', () => {
    const draw = randomStream(1, 'log', 'torn writes').below;
    const wrong = [0, 2, tiles - 1].flatMap((tile) => cutsOf(night, tile, draw).flatMap((at) => wrongWith(cutLog(night, tile, at), join(work, 'cut'))));
    expect(wrong).toEqual([]);
  });

  it('with its writes in any order, in a checkpoint, in a new log, or with a rotten byte', () => {
    const draw = randomStream(2, 'log', 'torn writes').below;
    const cuts = Array.from({ length: 60 }, () => drawCut(night, draw));
    expect(new Set(cuts.map(({ how }) => how.replace(/\d+/g, 'N'))).size).toBeGreaterThanOrEqual(5);
    expect(cuts.flatMap((cut) => wrongWith(cut, join(work, 'torn')))).toEqual([]);
  });

  it('is seen to do harm when a commit had returned before it was on the disk', () => {
    const late = { ...night, endBytes: night.endBytes.map((_, n) => night.endBytes[Math.max(0, n - 1)] ?? 0) };
    const at = (late.endBytes[3] ?? 0) + 100;
    expect(wrongWith(cutLog(late, 3, at), join(work, 'late'))).toEqual([expect.stringContaining('2 tiles are recorded, not 3')]);
  });
});
