import { afterEach, describe, expect, it, vi } from 'vitest';
import type { RunMachine } from '../../../daemon/run/machine.ts';
import type { Faults } from '../../../simulators/index.ts';
import type { Rig } from '../../support/rig.ts';
import { expectNothingForbidden, expectSafe } from '../../support/safety.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, startMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/**
 * Protects: what goes wrong at the instrument costs a try, a tile by name, or parks the night; never more, and never safety. How many
 * tries and skips is the run's own law (daemon/run/machine.ts). Here is one of each sort; all kinds, at any moment, are played by `npm run nights`.
 */

const nights = new TinyNights();
afterEach(() => nights.clear());

type When = 'preparing' | 'focusing' | 'scanning';

/** A short night in which a fault strikes: before the first move, at the first focus point, or after three recorded tiles. */
async function strike(when: When, fault: (faults: Faults) => void): Promise<{ readonly night: TinyNight<Rig>; readonly machine: RunMachine }> {
  const night = nights.makeOnRig({ files: tinyFiles(fewTiles) });
  if (when === 'preparing') fault(night.opener.faults);
  const leave = night.observatory.board.subscribe((message) => {
    const isFocusing = message.type === 'progress' && message.progress.sentence.startsWith('Finding focus');
    const isScanning = message.type === 'tile' && night.records.tileCount(night.opened.runId) === 3;
    if (!(when === 'focusing' ? isFocusing : isScanning)) return;
    leave();
    fault(night.opener.faults);
  });
  const machine = await night.run();
  return { night, machine };
}

const tilesOf = (night: TinyNight) => night.records.tiles(night.opened.runId);
const namedTiles = (night: TinyNight) => tilesOf(night).flatMap(({ tile, outcome, reason }) => (reason === undefined ? [] : [{ tile, outcome, reason }]));
const eventsOf = (night: TinyNight, wanted: string): readonly string[] => night.records.events(night.opened.runId).flatMap(({ kind, text }) => (kind === wanted ? [text] : []));

/** Every tile of the plan is recorded. */
function expectWhole(night: TinyNight): void {
  expect(tilesOf(night).map(({ tile }) => tile)).toEqual(Array.from({ length: night.opened.plan.tileCount }, (_, n) => n));
}

describe('a passing fault', () => {
  it.each<[string, When, (faults: Faults) => void]>([
    ['an axis that stalls once on the way to a tile', 'scanning', (faults) => faults.stallAxis('x')],
    ['a focus drive that stalls once', 'scanning', (faults) => faults.stallAxis('z')],
    ['a frame that never comes', 'scanning', (faults) => faults.dropFrame()],
    ['a black frame', 'scanning', (faults) => faults.blackFrame()],
    ['the same frame once more', 'scanning', (faults) => faults.repeatFrame()],
    ['a stage at a limit switch', 'scanning', (faults) => faults.hitLimit()],
    ['a move of the stage that never ends', 'scanning', (faults) => faults.hang('stage')],
    ['a frame that neither comes nor fails', 'scanning', (faults) => faults.hang('camera')],
    ['a garbled answer while all is made ready', 'preparing', (faults) => faults.corruptReply('lamp')],
    ['a garbled answer of the stage', 'scanning', (faults) => faults.corruptReply('stage')],
    ['a frame that never comes while focus is searched', 'focusing', (faults) => faults.dropFrame(2)],
  ])('costs a try and no tile: %s', async (_, when, fault) => {
    const { night, machine } = await strike(when, fault);
    expect(machine).toMatchObject({ phase: 'finished', cause: 'done' });
    expectWhole(night);
    expect(namedTiles(night)).toEqual([]);
    expect(eventsOf(night, 'trouble').length).toBeGreaterThan(0);
    await expectSafe(night);
  });
});

describe('a device that goes and comes back', () => {
  /** Unplugged in mid-scan, and plugged in again after so long on the night's own clock. */
  async function away(device: 'stage' | 'camera', awayMs: number) {
    let back: Promise<void> | undefined;
    const begun = nights.makeOnRig({ files: tinyFiles(fewTiles) });
    const { faults, instrument } = begun.opener;
    const leave = begun.observatory.board.subscribe((message) => {
      if (message.type !== 'tile' || begun.records.tileCount(begun.opened.runId) !== 3) return;
      leave();
      faults.unplug(device);
      back = instrument.clock.sleep(awayMs).then(() => faults.plugIn(device));
    });
    const machine = await begun.run();
    await back;
    return { night: begun, machine };
  }

  it.each(['camera', 'stage'] as const)('is waited for, and costs no tile: the %s', async (device) => {
    const { night, machine } = await away(device, 45_000);
    expect(machine).toMatchObject({ phase: 'finished', cause: 'done' });
    expectWhole(night);
    expect(namedTiles(night)).toEqual([]);
    expect(eventsOf(night, 'run').join()).toContain('a device does not answer any more. It is looked for every second');
    // A stage that was away has to be homed, and focus is measured once more then.
    expect(eventsOf(night, 'focus').filter((text) => text.includes('focus found at'))).toHaveLength(device === 'stage' ? 2 : 1);
    await expectSafe(night);
  });

  it('parks the night when it stays away for more than ten minutes', async () => {
    const { night, machine } = await away('camera', 11 * 60_000);
    expect(machine).toMatchObject({ phase: 'parked', cause: 'disconnected' });
    expect(namedTiles(night)).toEqual([]);
    await expectSafe(night);
  });
});

describe('a fault at one tile', () => {
  it('has the tile skipped by name after three tries, and the rest is taken', async () => {
    const { night, machine } = await strike('scanning', (faults) => faults.dropFrame(3));
    expect(machine.phase).toBe('finished');
    expectWhole(night);
    expect(namedTiles(night)).toEqual([{ tile: expect.any(Number), outcome: 'skipped', reason: 'noFrame' }]);
    expect(eventsOf(night, 'tile')).toEqual([expect.stringMatching(/^T-01, tile \d+ of \d+: skipped, the camera gave no frame\.$/)]);
    expect(eventsOf(night, 'run').at(-1)).toContain(`${night.opened.plan.tileCount - 1} of ${night.opened.plan.tileCount} tiles`);
    await expectSafe(night);
  });

  it.each<['black' | 'saturated', (faults: Faults) => void]>([
    ['black', (faults) => faults.blackFrame(3)],
    ['saturated', (faults) => faults.saturate(3)],
  ])('names a frame that is %s at the third try too, and reads nothing from it', async (reason, fault) => {
    const { night, machine } = await strike('scanning', fault);
    expect(machine.phase).toBe('finished');
    expectWhole(night);
    expect(namedTiles(night)).toEqual([{ tile: expect.any(Number), outcome: 'done', reason }]);
    expect(tilesOf(night).filter(({ fault: found }) => found !== undefined).flatMap(({ detections }) => detections)).toEqual([]);
    await expectSafe(night);
  });
});

describe('a fault that stays', () => {
  it.each<[string, When, string, (faults: Faults) => void]>([
    ['a camera that gives no frames any more, while focus is searched', 'focusing', 'noFrame', (faults) => faults.switchOn('dropFrame')],
    ['a camera that gives no frames from the start', 'preparing', 'noFrame', (faults) => faults.switchOn('dropFrame')],
    ['a stage that is unplugged, and loses its position', 'scanning', 'disconnected', (faults) => faults.unplug('stage')],
    ['a camera that is unplugged', 'scanning', 'disconnected', (faults) => faults.unplug('camera')],
    ['a camera that is unplugged while focus is searched', 'focusing', 'disconnected', (faults) => faults.unplug('camera')],
  ])('parks the night and skips nothing for it: %s', async (_, when, cause, fault) => {
    const { night, machine } = await strike(when, fault);
    expect(machine).toMatchObject({ phase: 'parked', cause });
    expect(night.records.run(night.opened.runId)?.state).toBe('parked');
    expect(namedTiles(night)).toEqual([]);
    expect(tilesOf(night).length).toBeLessThan(night.opened.plan.tileCount);
    await expectSafe(night);
  });

  it('parks after five tiles in a row without a frame, each named', async () => {
    const night = nights.makeOnRig();
    const leave = night.observatory.board.subscribe((message) => {
      if (message.type !== 'tile') return;
      leave();
      night.opener.faults.switchOn('dropFrame');
    });
    expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'noFrame' });
    expect(namedTiles(night).map(({ outcome, reason }) => [outcome, reason])).toEqual(Array(5).fill(['skipped', 'noFrame']));
    await expectSafe(night);
  });

  it('parks after five black frames in a row when the lamp has died, and goes on with a new one', async () => {
    const night = nights.makeOnRig();
    const leave = night.observatory.board.subscribe((message) => {
      if (message.type !== 'tile') return;
      leave();
      night.opener.faults.loseLamp();
    });
    expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'black' });
    const black = namedTiles(night);
    expect(new Set(black.map(({ reason }) => reason))).toEqual(new Set(['black']));
    // Five are needed to be sure; those under way by then are recorded with them.
    expect(black.length).toBeGreaterThanOrEqual(5);
    expect(black.length).toBeLessThanOrEqual(5 + 4);
    await expectSafe(night);
    await night.close();
    const again = nights.makeOnRig({ folder: night.folder, resume: true, startMs: startMs + 3_600_000 });
    expect((await again.run()).phase).toBe('finished');
    expectWhole(again);
    expect(namedTiles(again)).toEqual(black);
  });

  it('tells of a lamp that fades, parks at half its light, and loses nothing of what was taken before', async () => {
    const night = nights.makeOnRig();
    const leave = night.observatory.board.subscribe((message) => {
      if (message.type !== 'tile' || night.records.tileCount(night.opened.runId) !== 6) return;
      leave();
      night.opener.faults.fadeLamp(3000);
    });
    expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'lampFaded' });
    const told = eventsOf(night, 'trouble').filter((text) => text.startsWith('The lamp gives'));
    expect(told).toEqual([expect.stringContaining('Contrast stands'), expect.stringContaining('The night stops here')]);
    expect(namedTiles(night)).toEqual([]);
    await expectSafe(night);
  });

  it('parks a night in which work hangs that nobody waits for with a limit of its own, and the tile is taken on resume', async () => {
    const { night, machine } = await strike('scanning', (faults) => faults.hangWork());
    expect(machine).toMatchObject({ phase: 'parked', cause: 'noProgress' });
    expect(namedTiles(night)).toEqual([]);
    await expectSafe(night);
    await night.close();
    const again = nights.makeOnRig({ folder: night.folder, resume: true });
    expect((await again.run()).phase).toBe('finished');
    expectWhole(again);
  });

  it('makes safe what can still be reached, and says of what cannot', async () => {
    const { night, machine } = await strike('scanning', (faults) => faults.unplug('focus'));
    expect(machine).toMatchObject({ phase: 'parked', cause: 'disconnected' });
    expect(await night.opener.instrument.lamp.intensity()).toBe(0);
    expect(eventsOf(night, 'trouble').at(-1)).toBe('The focus could not be made safe. Go and look at the instrument.');
    expectNothingForbidden(night);
  });
});

describe('a chip without focus', () => {
  it('is left out by name, and the next one is scanned', async () => {
    const files = tinyFiles((instrument, sheet) => {
      fewTiles(instrument, sheet);
      const [chip] = sheet.chips;
      // Nothing lies there.
      if (chip) sheet.chips.unshift({ ...chip, name: 'N-00', outline: { rectangle: { ...chip.outline.rectangle, centreUm: [24_000, 20_000] } } });
    });
    const night = nights.makeOnRig({ files });
    expect((await night.run()).phase).toBe('finished');
    expectWhole(night);
    const tilesOfChip = (name: string) => tilesOf(night).filter(({ chip }) => chip === name);
    expect(new Set(tilesOfChip('N-00').map(({ outcome, reason }) => `${outcome} ${reason ?? ''}`))).toEqual(new Set(['skipped focusNotFound']));
    expect(new Set(tilesOfChip('T-01').map(({ outcome, reason }) => `${outcome} ${reason ?? ''}`))).toEqual(new Set(['done ']));
    expect(eventsOf(night, 'trouble').join()).toContain('Focus was not found on chip N-00');
    await expectSafe(night);
  });

  it('parks the night when no chip has focus at all: with a new lamp the tiles are still there to be taken', async () => {
    const { night, machine } = await strike('focusing', (faults) => faults.loseLamp());
    expect(machine).toMatchObject({ phase: 'parked', cause: 'focusNotFound' });
    expect(tilesOf(night)).toEqual([]);
    expect(eventsOf(night, 'trouble').join()).toContain('Focus was not found on chip T-01');
    await expectSafe(night);
    await night.close();
    const again = nights.makeOnRig({ folder: night.folder, resume: true });
    expect((await again.run()).phase).toBe('finished');
    expectWhole(again);
  });
});
