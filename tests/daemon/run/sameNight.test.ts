import { afterEach, describe, expect, it, vi } from 'vitest';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { WorkerPool, type FramePool } from '../../../daemon/classify/pool.ts';
import { inlinePool } from '../../support/inlinePool.ts';
import { jitteryPool } from '../../support/jitteryPool.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, TinyNights } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: one seed gives one night, byte for byte, pictures, times and events included, whatever the workers. A law of our own. */

const nights = new TinyNights();
afterEach(() => nights.clear());

/** The record of a whole night with this pool, line by line; the tiles must be there, or two empty records would be alike. */
async function nightWith(pool: FramePool, seed = 7): Promise<readonly string[]> {
  try {
    const files = tinyFiles((instrument, sheet) => {
      // A dozen tiles: three for each of four workers, and enough for one to overtake another.
      fewTiles(instrument, sheet);
      instrument.simulator.seed = seed;
    });
    const night = nights.make({ pool, files });
    const { phase } = await night.run();
    const tiles = night.records.tiles(night.opened.runId);
    expect(phase).toBe('finished');
    expect(tiles.map(({ tile, outcome }) => [tile, outcome])).toEqual(tiles.map((_, n) => [n, 'done']));
    expect(tiles.length).toBe(night.opened.plan.tileCount);
    expect(night.records.flakes(night.opened.runId).some(({ verdict }) => verdict === 'flagged')).toBe(true);
    return night.dump().split('\n');
  } finally {
    await pool.close();
  }
}

describe('one seed', () => {
  it('gives the same night with 1, 2 and 4 workers, and when frames come back out of order; another seed another one', async () => {
    const one = await nightWith(new WorkerPool(1, createSystemClock()));
    for (const kind of ['run', 'chip', 'tile', 'flake', 'crop', 'file', 'state', 'event']) expect(one.some((line) => line.startsWith(`${kind} `))).toBe(true);
    for (const workers of [2, 4]) expect(await nightWith(new WorkerPool(workers, createSystemClock()))).toEqual(one);
    const jittery = jitteryPool(1);
    expect(await nightWith(jittery)).toEqual(one);
    expect(jittery.overtaken()).toBeGreaterThan(0);
    expect(await nightWith(inlinePool(), 8)).not.toEqual(one);
  });
});
