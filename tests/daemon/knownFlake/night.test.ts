import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { constancyOf } from '../../../daemon/constancy/line.ts';
import { steadinessOfNight } from '../../../daemon/knownFlake/steadiness.ts';
import { canonicalDump, verifyRecords } from '../../../daemon/records/index.ts';
import type { KnownFlakeVisit } from '../../../daemon/records/types.ts';
import { drifted } from '../../../planner/knownFlake/index.ts';
import { makeTray } from '../../../simulators/trays.ts';
import { makeWorld } from '../../../simulators/world/makeWorld.ts';
import type { Rig } from '../../support/rig.ts';
import { expectSafe } from '../../support/safety.ts';
import { trayNamed } from '../../simulators/smallMicroscope.ts';
import { tinyFiles, withKnownFlake, type TinyChange } from '../../support/tinyFiles.ts';
import { slowMachineMs, startMs, TinyNights, type TinyNight, type TinyNightOptions } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/**
 * Protects: every night goes to the known flake first and last, finds it, and tells a drift of the instrument as what it is. Truth: the
 * simulator's own world, and what was changed about its microscope.
 */

const nights = new TinyNights();
afterAll(() => nights.clear());

/** A chip of a tile or two. */
const oneTile: TinyChange = (instrument, sheet) => {
  for (const chip of sheet.chips) Object.assign(chip.outline.rectangle, { widthUm: 320, heightUm: 290 });
  sheet.focus.pointsPerChip = 3;
  withKnownFlake(instrument, sheet);
};
const files = tinyFiles(oneTile);
const knownFlake = files.config.knownFlake;

const dayMs = 86_400_000;
let folder = '';
let count = 0;

async function anotherNight(change?: TinyNightOptions['change']): Promise<TinyNight<Rig>> {
  count += 1;
  const night = nights.makeOnRig({ files, folder, startMs: startMs + count * dayMs, ...(change ? { change } : {}) });
  expect((await night.run()).phase).toBe('finished');
  return night;
}

const visitsOf = ({ records, opened }: TinyNight) => records.knownFlake(opened.runId);
const found = (visits: readonly KnownFlakeVisit[]) => visits.filter((visit) => visit.outcome === 'found');
const line = ({ records, opened }: TinyNight) => constancyOf(records, opened.runId).line;
const worst = ({ records, opened }: TinyNight) => {
  const steadiness = steadinessOfNight(records, opened.runId)?.steadiness;
  return steadiness && drifted(steadiness).map(({ quantity, by }) => ({ quantity, by }));
};

let first: TinyNight<Rig>;
beforeAll(async () => {
  folder = nights.folder();
  first = await anotherNight();
});

describe('a night with a known flake', () => {
  it('goes to it before the first tile and after the last one, never low on the way', async () => {
    const { records, opened } = first;
    const [before, after] = visitsOf(first);
    const tiles = records.tiles(opened.runId).map(({ takenAtMs }) => takenAtMs);
    expect([before?.moment, after?.moment]).toEqual(['first', 'last']);
    expect(before?.takenAtMs).toBeLessThan(Math.min(...tiles));
    expect(after?.takenAtMs).toBeGreaterThan(Math.max(...tiles));
    await expectSafe(first);
  });

  it('finds it where it truly lies, as bright as it is by its layers, and in focus', () => {
    const truth = makeWorld(files.config.simulator?.seed ?? 0, trayNamed('watched')).chips.find(({ name }) => name === 'W-1');
    const corners = truth?.flakes[0]?.terraces[0]?.outlineUm ?? [];
    const middle = (of: readonly number[]): number => (Math.min(...of) + Math.max(...of)) / 2;
    const [x = NaN, y = NaN] = knownFlake?.stageUm ?? [];
    for (const visit of found(visitsOf(first))) {
      expect(visit.offsetUm.xUm).toBeCloseTo(middle(corners.map(({ xUm }) => xUm)) - x, -0.7);
      expect(visit.offsetUm.yUm).toBeCloseTo(middle(corners.map(({ yUm }) => yUm)) - y, -0.7);
      // Two layers of graphene on 290 nm: 0.07 to 0.1 a layer in the red and green.
      expect(visit.contrast[0]).toBeGreaterThan(0.13);
      expect(visit.contrast[0]).toBeLessThan(0.22);
      expect(Math.max(...visit.contrastError)).toBeLessThan(0.002);
      expect(Math.abs(visit.zUm - (truth?.surface.focusUm ?? NaN))).toBeLessThan(4);
      expect(visit.level.length).toBe(3);
      expect(visit.exposureMs).toBe(8);
    }
    expect(found(visitsOf(first)).length).toBe(2);
  });

  it('says so, in its events and in one line, and is sound in its records', async () => {
    expect(first.records.events(first.opened.runId).filter(({ kind }) => kind === 'knownFlake').map(({ text }) => text)).toEqual([expect.stringMatching(/^Known flake W-1: contrast 0\.1\d\d\. There is no earlier night/), expect.stringMatching(/^Known flake W-1: contrast 0\.1\d\d\. There is no earlier night/)]);
    expect(line(first)).toMatch(/^Known flake W-1: contrast 0\.1\d\d\. There is no earlier night under this light to hold it against\.$/);
    expect(first.observatory.board.snapshot().run?.constancy).toBe(line(first));
    expect(await verifyRecords(first.records)).toMatchObject({ sound: true });
    expect(canonicalDump(first.records, first.opened.runId).split('\n').filter((each) => each.startsWith('knownFlake ')).length).toBe(2);
  });

  it('is planned, forecast and audited with it', () => {
    const plain = tinyFiles((instrument, sheet) => {
      oneTile(instrument, sheet);
      Object.assign(instrument, { knownFlake: undefined });
    });
    const { plan } = first.opened;
    const without = nights.make({ files: plain }).opened.plan;
    expect(plan.knownFlake).toMatchObject({ name: 'W-1', atUm: { xUm: 21_370, yUm: 20_520 } });
    expect(without.knownFlake).toBeUndefined();
    expect(plan.forecastS).toBeGreaterThan(without.forecastS + 2 * (plan.knownFlake?.visitS ?? NaN));
    const events = first.records.events(first.opened.runId);
    const tookS = ((events.at(-1)?.atMs ?? NaN) - startMs - dayMs) / 1000;
    expect(tookS / plan.forecastS).toBeGreaterThan(0.8);
    expect(tookS / plan.forecastS).toBeLessThan(1.5);
    expect(() => tinyFiles((instrument, sheet) => {
      oneTile(instrument, sheet);
      Object.assign(instrument, { knownFlake: { ...files.config.knownFlake, stageUm: [5, 20_000] } });
    })).toThrow(/knownFlake/);
  });
});

describe('nights one after the other', () => {
  it('are steady as long as nothing changes, and tell a drift as what it is', async () => {
    await first.close();
    for (let n = 0; n < 3; n++) {
      const night = await anotherNight();
      expect(worst(night)).toEqual([]);
      expect(line(night)).toMatch(/^Known flake W-1: steady\. Contrast 0\.1\d\d, (as in|\d\.\d % below|\d\.\d % above) (the night before|the last \d nights) \(steady within \d\.\d %\); light [+−]\d/);
      await night.close();
    }
    // A lamp that gives a tenth less.
    const dim = await anotherNight({ lampShare: 0.9 });
    expect(worst(dim)).toEqual([{ quantity: 'light', by: expect.closeTo(-0.1, 1) }]);
    expect(line(dim)).toMatch(/^Known flake W-1: drifted, light (9|10)\.\d % below the last 4 nights \(steady within 4\.\d %\)\. Contrast/);
    await dim.close();
    // Somebody put another lamp in, and did not say so.
    const led = await anotherNight({ lamp: 'whiteLed' });
    expect(worst(led)?.map(({ quantity }) => quantity)).toContain('colour');
    await led.close();
    // The stage finds its zero elsewhere.
    const shifted = await anotherNight({ remounted: { 'W-1': { turnDeg: 0, shiftUm: { xUm: 9, yUm: -4 } } } });
    expect(worst(shifted)).toEqual([{ quantity: 'place', by: expect.closeTo(Math.hypot(9, 4), 0) }]);
    await shifted.close();
    // The sample, or the stand, is higher by 15 um.
    const tray = trayNamed('watched');
    const higher = await anotherNight({ tray: makeTray('watched', tray.chips.map((chip) => (chip.name === 'W-1' ? { ...chip, surface: { ...chip.surface, focusUm: chip.surface.focusUm + 15 } } : chip))) });
    expect(worst(higher)).toEqual([{ quantity: 'focus', by: expect.closeTo(15, 0) }]);
    await higher.close();
  });
});

describe('a known flake that is not found', () => {
  it('is recorded with the reason, and stops no night', async () => {
    const gone = nights.makeOnRig({ files, change: { tray: trayNamed('tiny') } });
    expect((await gone.run()).phase).toBe('finished');
    expect(visitsOf(gone)).toMatchObject([{ moment: 'first', outcome: 'notFound', reason: 'focusNotFound' }, { moment: 'last', outcome: 'notFound' }]);
    expect(line(gone)).toBe('Known flake W-1: not found, focus was not found.');
    expect(gone.records.tiles(gone.opened.runId).every(({ outcome }) => outcome === 'done')).toBe(true);
    await gone.close();
  });

  it('because a device failed is tried again by the run\'s own rules', async () => {
    const rig = nights.makeOnRig({ files });
    let isOver = false;
    rig.observatory.board.subscribe((message) => {
      // The first way of the scan is the one to the known flake.
      if (isOver || message.type !== 'progress' || message.progress.state !== 'scanning') return;
      isOver = true;
      rig.opener.faults.stallAxis('x');
    });
    expect((await rig.run()).phase).toBe('finished');
    expect(rig.records.transitions(rig.opened.runId).map(({ cause }) => cause)).toContain('stalled');
    expect(found(visitsOf(rig)).length).toBe(2);
    await expectSafe(rig);
    await rig.close();
  });

  it('is not gone to again by a night that goes on', async () => {
    const broken = nights.makeOnRig({ files });
    let isAsked = false;
    broken.observatory.board.subscribe((message) => {
      if (isAsked || message.type !== 'event' || message.event.kind !== 'knownFlake') return;
      isAsked = true;
      void broken.observatory.stop();
    });
    expect(await broken.run()).toMatchObject({ phase: 'parked', cause: 'stopAsked' });
    const [before] = visitsOf(broken);
    expect(before).toMatchObject({ moment: 'first', outcome: 'found' });
    await broken.close();
    const on = nights.makeOnRig({ files, folder: broken.folder, resume: true, startMs: startMs + 3_600_000 });
    expect((await on.run()).phase).toBe('finished');
    expect(visitsOf(on)[0]).toEqual(before);
    expect(visitsOf(on).length).toBe(2);
    await on.close();
  });
});
