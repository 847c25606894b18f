import { afterEach, describe, expect, it, vi } from 'vitest';
import { verifyRecords } from '../../../daemon/records/index.ts';
import { fillDisk } from '../../../daemon/records/writeDurably.ts';
import { expectSafe } from '../../support/safety.ts';
import { slowMachineMs, startMs, TinyNights, type TinyNight, type TinyNightOptions } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a full disk ends the night safely with what was done kept, and the night goes on once there is room. A law of our own. */

const nights = new TinyNights();
afterEach(() => nights.clear());

/** The tiles recorded are the first ones of the route, without a gap. Returns how many. */
function recordedWithoutGap(night: TinyNight): number {
  const tiles = night.records.tiles(night.opened.runId).map(({ tile }) => tile);
  expect(tiles).toEqual(tiles.map((_, n) => n));
  return tiles.length;
}

/** Runs into the full disk, then goes on in the same folder with room. */
async function fillThenGoOn(full: TinyNightOptions): Promise<void> {
  const night = nights.makeOnRig(full);
  expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'diskFull' });
  await expectSafe(night);
  const kept = recordedWithoutGap(night);
  expect(kept).toBeGreaterThan(0);
  expect(kept).toBeLessThan(night.opened.plan.tileCount);
  expect(await verifyRecords(night.records)).toMatchObject({ sound: true, leftovers: [] });
  const before = night.records.tiles(night.opened.runId);
  const trouble = night.observatory.board.snapshot().events.filter(({ kind }) => kind === 'trouble');
  expect(trouble.map(({ text }) => text).join()).toContain('is full');
  await night.close();
  const again = nights.make({ folder: night.folder, resume: true, startMs: startMs + 3_600_000 });
  expect((await again.run()).phase).toBe('finished');
  expect(recordedWithoutGap(again)).toBe(again.opened.plan.tileCount);
  expect(again.records.tiles(again.opened.runId).slice(0, kept)).toEqual(before);
  expect(await verifyRecords(again.records)).toMatchObject({ sound: true });
}

describe('a full disk', () => {
  it('parks the night when the database cannot grow', async () => {
    // The plan takes some 100 kB, a whole tiny night some 400.
    await fillThenGoOn({ maxBytes: 240_000 });
  });

  it('parks the night when a picture cannot be written', async () => {
    await fillThenGoOn({ writeBytes: fillDisk(150_000) });
  });

  it('is seen before the first move when there is not even room for the plan', async () => {
    const night = nights.makeOnRig({ freeBytes: async () => 1_000_000 });
    expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'diskFull' });
    await expectSafe(night);
    expect(night.opener.commands.filter(({ device }) => device === 'stage')).toEqual([]);
    expect(recordedWithoutGap(night)).toBe(0);
    expect(night.records.run(night.opened.runId)?.state).toBe('parked');
  });
});
