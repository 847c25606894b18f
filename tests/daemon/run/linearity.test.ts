import { afterEach, describe, expect, it, vi } from 'vitest';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';
import type { Rig } from '../../support/rig.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a night does not begin with a camera whose numbers do not follow the light, and where that or darkness cannot be had, it is said. */

const nights = new TinyNights();
afterEach(() => nights.clear());

function nightThatChecks(checkLinearity?: boolean): TinyNight<Rig> {
  return nights.makeOnRig({
    files: tinyFiles((instrument, sheet) => {
      fewTiles(instrument, sheet);
      if (checkLinearity !== undefined) Object.assign(instrument.camera, { checkLinearity });
    }),
  });
}

function said({ records, opened }: TinyNight<Rig>, kind: string): readonly string[] {
  return records.events(opened.runId).filter((event) => event.kind === kind).map(({ text }) => text);
}

/** Every frame from now on as a camera with this gamma would give it. */
function bend({ opener }: TinyNight<Rig>, gamma: number): void {
  const { camera } = opener.instrument;
  const snap = camera.snap.bind(camera);
  vi.spyOn(camera, 'snap').mockImplementation(async (...wish): Promise<CameraFrame> => {
    const frame = await snap(...wish);
    return { ...frame, data: frame.data.map((sample) => Math.round(255 * (sample / 255) ** gamma)) };
  });
}

/** Runs a night up to its first move, where it is ended; how many frames were taken until then, or undefined when it never came to move. */
async function framesBeforeMoving(night: TinyNight<Rig>): Promise<number | undefined> {
  const { stage, camera } = night.opener.instrument;
  const snap = vi.spyOn(camera, 'snap');
  let frames: number | undefined;
  vi.spyOn(stage, 'moveTo').mockImplementation(async () => {
    frames ??= snap.mock.calls.length;
    return Promise.reject(new Error('far enough'));
  });
  await night.run();
  return frames;
}

describe('a night that checks its camera', () => {
  it('goes its way with one that is linear', async () => {
    const night = nightThatChecks(true);
    expect(await framesBeforeMoving(night)).toBeGreaterThan(4 + 8 + 24);
    expect(said(night, 'trouble').join(' ')).not.toContain('linear');
    expect(said(night, 'preflight').join(' ')).not.toContain('linear');
  });

  it('does not begin with gamma 0.9: parked before the first tile, with figures', async () => {
    const night = nightThatChecks(true);
    bend(night, 0.9);
    expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'notLinear' });
    expect(night.records.tiles(night.opened.runId)).toEqual([]);
    expect(said(night, 'trouble').join(' ')).toMatch(/The camera is not linear: 2 times the exposure gave 1\.8\d* ± 0\.\d+ times the light \((red|green|blue)\), where 1 % is allowed.*The night was not begun\./);
    expect(night.opener.commands.filter(({ device }) => device === 'stage')).toEqual([]);
    expect(await night.opener.instrument.lamp.intensity()).toBe(0);
  });

  it('is not a simulated one, unless it is told to: four dark frames and none more are taken before the first move', async () => {
    expect(await framesBeforeMoving(nightThatChecks())).toBe(4);
  });
});

describe('a lamp that is switched by hand', () => {
  it('gives no dark frame and no word on linearity: it is said, nothing is taken off, and the night goes its way', async () => {
    const night = nightThatChecks(true);
    Object.assign(night.opener.instrument.lamp, { isByHand: true });
    expect((await night.run()).phase).toBe('finished');
    expect(said(night, 'preflight')[0]).toMatch(/^The lamp is switched by hand: no dark frame is taken/);
    expect(said(night, 'preflight')[1]).toMatch(/^Whether the camera is linear is not known: the lamp is switched by hand/);
    expect(night.records.chips(night.opened.runId).map(({ dark }) => dark)).toEqual([[]]);
    expect(night.records.tiles(night.opened.runId).filter(({ outcome }) => outcome === 'done').length).toBeGreaterThan(5);
  });
});
