import { describe, expect, it } from 'vitest';
import { autofocus } from '../../../daemon/run/autofocus.ts';
import { textureCentre } from '../../../daemon/run/focusMeasure.ts';
import type { CameraFrame, Instrument } from '../../../drivers/interfaces/index.ts';
import { guardInstrument } from '../../../drivers/safety/gate.ts';
import { CLEAN, makeTray, type SimulatedMicroscope } from '../../../simulators/index.ts';
import { simulatorLimits, smallMicroscope, trayNamed } from '../../simulators/smallMicroscope.ts';

/** Protects: focus is found where there is something to see, and nothing else is ever taken for it. */

const signal = new AbortController().signal;
const request = { centreUm: 1003, rangeUm: 30, depthOfFieldUm: 5.83, takeUpUm: 1, zMinUm: 900, zMaxUm: 9000 };
const camera = { widthPx: 320, heightPx: 240, bits: 8, transfer: 'linear' as const, readoutMs: 20 };
/** A chip with nothing on it; the camera has its dust, vignetting and bad samples all the same. */
const blankTray = makeTray('blank', [{ name: 'E', centreUm: { xUm: 20_000, yUm: 20_000 }, flakesPerMm2: 0, dirt: CLEAN }]);

interface Ready extends SimulatedMicroscope {
  readonly guarded: Instrument;
}

/** A microscope that looks at the middle of a chip, light on. */
async function ready(change: Parameters<typeof smallMicroscope>[0], lampOn = true): Promise<Ready> {
  const microscope = smallMicroscope({ camera, ...change });
  const guarded = guardInstrument(microscope.instrument, simulatorLimits);
  await guarded.stage.moveTo({ xUm: 20_000, yUm: 20_000 });
  await guarded.clock.sleep(100);
  if (lampOn) await guarded.lamp.setIntensity(0.6);
  await guarded.camera.configure({ exposureMs: 8, gainDb: 0 });
  return { ...microscope, guarded };
}

/** The same instrument, whose frames are changed by what is given. */
const withFrames = (instrument: Instrument, change: (frame: CameraFrame, number: number) => CameraFrame): Instrument => {
  let number = 0;
  const snap: Instrument['camera']['snap'] = async (...args) => change(await instrument.camera.snap(...args), number++);
  return { ...instrument, camera: { info: instrument.camera.info, configure: (settings) => instrument.camera.configure(settings), snap, close: () => instrument.camera.close() } };
};

describe('a search over flakes', () => {
  it('finds the focus of the simulated chip within a tenth of the depth of field, and leaves the drive there, come from below', async () => {
    const { guarded } = await ready({ tray: trayNamed('tiny'), focus: { warmUpUm: 0, driftUmPerH: 0, repeatabilityUm: 0, hysteresisUm: 0 } });
    const focused = await autofocus(guarded, request, 20, signal);
    if (!focused.ok) throw new Error(focused.refusal.code);
    // The tray `tiny` says where its chip is in focus: 1003 um and a bow of 0.3 um in the middle.
    expect(Math.abs(focused.peak.zUm - 1003.3)).toBeLessThan(0.6);
    expect(await guarded.focus.position()).toBeCloseTo(focused.peak.zUm, 1);
    expect(focused.exposures).toBeLessThanOrEqual(55);
  });

  it('goes on to the next height while a frame is read out', async () => {
    const { guarded } = await ready({ tray: trayNamed('tiny') });
    await guarded.focus.moveTo(973);
    const beganMs = guarded.clock.now();
    const { exposures } = await autofocus(guarded, request, 20, signal);
    // One after the other, each of them would take 8 ms of exposure, 20 ms of readout, 20 ms to settle and a step of more than 40 ms.
    expect(guarded.clock.now() - beganMs).toBeLessThan(exposures * 82);
  });
});

describe('bare oxide is never taken for focus', () => {
  it('a blank place, dust and bad samples of the camera included, at 20 places', async () => {
    const { guarded } = await ready({ tray: blankTray });
    for (let n = 0; n < 20; n++) {
      await guarded.stage.moveTo({ xUm: 19_000 + 100 * n, yUm: 20_000 });
      await guarded.clock.sleep(100);
      expect(await autofocus(guarded, request, 20, signal)).toMatchObject({ ok: false });
    }
  });

  it('with the lamp off', async () => {
    const { guarded } = await ready({ tray: trayNamed('tiny') }, false);
    expect(await autofocus(guarded, request, 20, signal)).toMatchObject({ ok: false });
  });

  it('while the lamp slowly drifts, up or down, by a fifth', async () => {
    for (const drift of [0.2, -0.2]) {
      const { guarded } = await ready({ tray: blankTray });
      const drifting = withFrames(guarded, (frame, n) => ({ ...frame, data: frame.data.map((value) => Math.round(value * (1 + (drift * n) / 20))) }));
      expect(await autofocus(drifting, request, 20, signal)).toMatchObject({ ok: false });
    }
  });

  it('with one spoilt frame among the others, wherever it is', async () => {
    for (const spoilt of [3, 6, 10, 14]) {
      const { guarded } = await ready({ tray: blankTray });
      const torn = withFrames(guarded, (frame, n) => (n === spoilt ? { ...frame, data: frame.data.map((value, i) => (Math.floor(i / 9) % 2 === 0 ? value : value >> 1)) } : frame));
      expect(await autofocus(torn, request, 20, signal)).toMatchObject({ ok: false });
    }
  });

  it('with dust on the sensor that is sharper than any flake', async () => {
    const { guarded } = await ready({ tray: blankTray });
    const dusty = withFrames(guarded, (frame) => ({ ...frame, data: frame.data.map((value, i) => (i % 963 < 30 ? value >> 2 : value)) }));
    expect(await autofocus(dusty, request, 20, signal)).toMatchObject({ ok: false });
  });
});

describe('where the texture is', () => {
  /** A frame of even light with a sharp edge in one corner cell. */
  const frame = (edge: number): CameraFrame => {
    const data = new Uint8Array(64 * 64).fill(100);
    for (let y = 48; y < 60; y++) for (let x = 8; x < 16; x++) data[y * 64 + x] = 100 + edge;
    return { widthPx: 64, heightPx: 64, pixelFormat: 'mono8', bits: 8, data, exposureMs: 1, takenAtMs: 0 };
  };

  it('is told from what is sharper in focus than out of it', () => {
    const place = textureCentre(frame(80), frame(10));
    expect(place?.right).toBeCloseTo(12 / 64, 1);
    expect(place?.down).toBeCloseTo(54 / 64, 1);
  });

  it('is nowhere when nothing changes with focus', () => {
    expect(textureCentre(frame(80), frame(80))).toBeUndefined();
  });
});
