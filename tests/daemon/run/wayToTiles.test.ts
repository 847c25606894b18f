import { afterEach, describe, expect, it, vi } from 'vitest';
import { distanceUm } from '../../../planner/units/index.ts';
import type { Rig } from '../../support/rig.ts';
import { expectNothingForbidden, expectSafe } from '../../support/safety.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: the stage loses no time between tiles, and what it reports of the sample's place stays true. */

const nights = new TinyNights();
afterEach(() => nights.clear());

/** A short night, its slack told or not. The simulated stage's own is 12 um on both axes. */
async function run(playUm?: [number, number]): Promise<TinyNight<Rig>> {
  const files = tinyFiles((instrument, sheet) => {
    fewTiles(instrument, sheet);
    if (playUm) Object.assign(instrument.stage, { playUm });
  });
  const night = nights.makeOnRig({ files });
  expect((await night.run()).phase).toBe('finished');
  await expectSafe(night);
  expectNothingForbidden(night);
  return night;
}

const tilesOf = (night: TinyNight) => night.records.tiles(night.opened.runId);
const stageMoves = (night: TinyNight<Rig>) => night.opener.commands.filter(({ device }) => device === 'stage').length;
const lengthMs = (night: TinyNight): number => (tilesOf(night).at(-1)?.takenAtMs ?? NaN) - (tilesOf(night)[0]?.takenAtMs ?? NaN);

describe('slack that was measured', () => {
  it('takes one move a tile, where taking it up takes two on the way back', async () => {
    const [told, untold] = [await run([12, 12]), await run()];
    const tiles = told.opened.plan.tileCount;
    const before = (night: TinyNight<Rig>): number => stageMoves(night) - tiles;
    // What remains are focus points, pictures of corners, and the like: the same for both, but for take-ups.
    expect(before(told)).toBeLessThan(before(untold));
    expect(lengthMs(told)).toBeLessThan(lengthMs(untold));
  });

  it('finds the same flakes at the same places as taking it up does, within the repeatability of the stage', async () => {
    const [told, untold] = [await run([12, 12]), await run()];
    const flakes = (night: TinyNight) => night.records.flakes(night.opened.runId).filter(({ areaUm2 }) => areaUm2 > 150);
    expect(flakes(untold).length).toBeGreaterThanOrEqual(3);
    for (const flake of flakes(untold)) {
      const nearest = Math.min(...flakes(told).map((other) => distanceUm(other.centreUm, flake.centreUm)));
      // Repeatability 1.2 um on each axis and visit; an outline cut by a frame's edge moves its middle a little more.
      expect(nearest).toBeLessThan(5);
    }
  });
});

describe('the way to the next tile', () => {
  it('begins while the frame is read out: 40 ms are saved at each tile', async () => {
    const night = await run([12, 12]);
    const tiles = tilesOf(night);
    const { tileCount, chips } = night.opened.plan;
    const steps = (chips[0]?.tiles ?? []).slice(1).map((tile, i) => distanceUm(tile.centreUm, chips[0]?.tiles[i]?.centreUm ?? tile.centreUm));
    // Uniformly accelerated both halves of the way, 60 ms to settle and 8 ms of exposure; the slack at turns and the step of focus allowed for.
    const leastMs = steps.reduce((sum, step) => sum + 2000 * Math.sqrt(step / 100_000) + 68, 0);
    expect(tiles).toHaveLength(tileCount);
    expect(lengthMs(night)).toBeGreaterThan(leastMs * 0.98);
    expect(lengthMs(night)).toBeLessThan(leastMs + tileCount * 20);
  });

  it('that was begun does not lose a tile whose frame then fails', async () => {
    const files = tinyFiles(fewTiles);
    const night = nights.makeOnRig({ files });
    const leave = night.observatory.board.subscribe((message) => {
      if (message.type !== 'tile' || night.records.tileCount(night.opened.runId) !== 2) return;
      leave();
      night.opener.faults.corruptFrame(2);
    });
    expect((await night.run()).phase).toBe('finished');
    expect(tilesOf(night).map(({ outcome }) => outcome)).toEqual(Array<string>(night.opened.plan.tileCount).fill('done'));
    for (const { tile, centreUm } of tilesOf(night)) {
      const planned = night.opened.plan.chips[0]?.tiles.find(({ index }) => index === tile);
      expect(distanceUm(centreUm, planned?.centreUm ?? { xUm: NaN, yUm: NaN })).toBeLessThan(0.5);
    }
    await expectSafe(night);
  });
});
