import { afterEach, describe, expect, it, vi } from 'vitest';
import { verifyRecords } from '../../../daemon/records/index.ts';
import type { WriteBytes } from '../../../daemon/records/writeDurably.ts';
import type { NightFiles } from '../../../daemon/run/openNight.ts';
import { atRest } from '../../support/atRest.ts';
import { expectSafe } from '../../support/safety.ts';
import { fewTiles, tinyFiles, withCloseUps } from '../../support/tinyFiles.ts';
import { slowMachineMs, startMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a disk that takes its time, or that refuses a picture in the middle of a night, loses no tile and no close-up and doubles none. Laws of our own. */

const nights = new TinyNights();
afterEach(() => nights.clear());

const files = tinyFiles(fewTiles);
const filesWithCloseUps = tinyFiles((instrument, sheet) => {
  fewTiles(instrument, sheet);
  withCloseUps(instrument, sheet);
  // The usual tiny frame would hold no flake at the magnification of close-ups.
  Object.assign(instrument.camera, { widthPx: 512, heightPx: 416 });
});

const tilesOf = ({ records, opened }: TinyNight): number[] => records.tiles(opened.runId).map(({ tile }) => tile);
const closeUpsOf = ({ records, opened }: TinyNight): string[] => records.closeUps(opened.runId).map(({ flakeId }) => flakeId);
const plannedOf = ({ opened }: TinyNight): number[] => Array.from({ length: opened.plan.tileCount }, (_, n) => n);

/** Writes after the first so many wait until they are let go, one after the other. */
function heldWrites(after: number): { readonly writeBytes: WriteBytes; readonly held: () => number; readonly letGo: () => void } {
  const doors: (() => void)[] = [];
  let written = 0;
  return {
    held: () => doors.length,
    letGo: () => doors.splice(0).forEach((open) => open()),
    async writeBytes(file, bytes) {
      if (written++ >= after) await new Promise<void>((resolve) => doors.push(resolve));
      await file.writeFile(bytes);
    },
  };
}

/** A disk that refuses one write as the system says it: the nth after it was armed. */
function refusingDisk(nth: number, code: string): { readonly writeBytes: WriteBytes; readonly arm: () => void } {
  let left = Infinity;
  return {
    arm: () => (left = Math.min(left, nth)),
    async writeBytes(file, bytes) {
      if (--left === 0) throw Object.assign(new Error(`${code}: it cannot be written`), { code });
      await file.writeFile(bytes);
    },
  };
}

describe('a slow disk', () => {
  it('makes the stage wait, however long a write takes; every tile is recorded once', async () => {
    const disk = heldWrites(10);
    const night = nights.makeOnRig({ files, writeBytes: disk.writeBytes, untied: true });
    const states = new Set<string>();
    night.observatory.board.subscribe((message) => {
      if (message.type === 'progress') states.add(message.progress.state);
    });
    const progress = { hasEnded: false };
    const running = night.run().finally(() => (progress.hasEnded = true));
    while (!progress.hasEnded) {
      await atRest(() => night.opener.commands.length + disk.held());
      // Everything has come to rest on the disk: no frame was dropped, and none was taken that has no room.
      disk.letGo();
    }
    expect((await running).phase).toBe('finished');
    expect(states).toContain('waiting');
    expect(tilesOf(night)).toEqual(plannedOf(night));
    expect(await verifyRecords(night.records, { deep: true })).toMatchObject({ sound: true, problems: [], leftovers: [], orphans: [] });
  });
});

/** Runs until a write fails, armed when the page says something, then goes on with a disk that works. Gives what was recorded before and after. */
async function failThenGoOn(parts: { readonly files: NightFiles; readonly nth: number; readonly code: string; readonly armedBy: string }, cause: string, sentence: string) {
  const disk = refusingDisk(parts.nth, parts.code);
  const night = nights.makeOnRig({ files: parts.files, writeBytes: disk.writeBytes });
  night.observatory.board.subscribe((message) => {
    if (message.type === 'progress' && message.progress.sentence.includes(parts.armedBy)) disk.arm();
  });
  expect(await night.run()).toMatchObject({ phase: 'parked', cause });
  await expectSafe(night);
  const trouble = night.records.events(night.opened.runId).filter(({ kind }) => kind === 'trouble');
  expect(trouble.map(({ text }) => text).join('\n')).toContain(sentence);
  expect(night.records.run(night.opened.runId)?.state).toBe('parked');
  const before = { tiles: tilesOf(night), closeUps: closeUpsOf(night) };
  expect(await verifyRecords(night.records)).toMatchObject({ sound: true, problems: [], leftovers: [] });
  await night.close();
  const again = nights.make({ files: parts.files, folder: night.folder, resume: true, startMs: startMs + 3_600_000 });
  expect((await again.run()).phase).toBe('finished');
  expect(tilesOf(again)).toEqual(plannedOf(again));
  expect(closeUpsOf(again).slice(0, before.closeUps.length)).toEqual(before.closeUps);
  expect(new Set(closeUpsOf(again)).size).toBe(closeUpsOf(again).length);
  expect(await verifyRecords(again.records, { deep: true })).toMatchObject({ sound: true, problems: [] });
  return { before, planned: again.opened.plan.tileCount, closeUps: closeUpsOf(again) };
}

describe('a disk that refuses a picture', () => {
  it('of a tile parks the night with the system\'s reason; the tile is taken again', async () => {
    const { before, planned } = await failThenGoOn({ files, nth: 1, code: 'EIO', armedBy: 'tile 9 of' }, 'writeFailed', 'EIO: it cannot be written');
    expect(before.tiles.length).toBeGreaterThan(0);
    expect(before.tiles.length).toBeLessThan(planned);
  });

  it('of a close-up parks the night with all tiles kept; the flake is looked at when it goes on', async () => {
    // The second of its two files: the first one is on the disk already.
    const { before, planned, closeUps } = await failThenGoOn({ files: filesWithCloseUps, nth: 2, code: 'ENOSPC', armedBy: 'flake 2 of' }, 'diskFull', 'is full');
    expect(before.tiles.length).toBe(planned);
    expect(before.closeUps.length).toBe(1);
    expect(closeUps.length).toBeGreaterThan(1);
  });
});
