import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { classifyFrameSet } from '../../../daemon/classify/frameSet.ts';
import type { FrameSetReport } from '../../../daemon/classify/report.ts';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import { openFrameSet } from '../../../drivers/frameset/index.ts';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import { drawFrame, PIXEL_UM, random, square, type Shape } from '../vision/drawFrame.ts';
import { asCamera } from '../vision/encode.ts';
import { storeFrames, type SetToStore } from './storeFrames.ts';

/** Protects: stored frames of every camera are read as what they are, and what belongs to the sensor is no flake. Truth is what was drawn. */

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightjar-cameras-'));
});
afterAll(() => rm(folder, { recursive: true }));

async function classified(name: string, set: SetToStore): Promise<FrameSetReport> {
  await storeFrames(join(folder, name), set);
  return (await classifyFrameSet(join(folder, name), { inFlight: 2 }, (input) => Promise.resolve(measureFrame(input)))).report;
}

/** Contrasts measured on graphene (Ni et al. 2007, from memory): one to four layers. */
const MEASURED = [0.09, 0.175, 0.255, 0.33] as const;
/** Frames this far apart along x, and the flakes of the chip from the left edge of the first frame, px. */
const STEP_PX = 290;
const PLACES_PX = [60, 180, 400, 520, 700, 820, 1000, 1120, 1300, 1420] as const;

function chipFrame(k: number, change: Parameters<typeof drawFrame>[0] = {}): CameraFrame {
  const shapes = PLACES_PX.flatMap((place, i): Shape[] => {
    const c = MEASURED[i % 4] ?? 0;
    return [{ corners: square(place - k * STEP_PX, 50 + 15 * i, 44), contrast: [c, c, 0.05 * c] }];
  });
  return drawFrame({ seed: k + 11, shapes, ...change });
}

const row = (frames: readonly CameraFrame[]): SetToStore['frames'] => frames.map((frame, k) => ({ frame, xUm: k * STEP_PX * PIXEL_UM }));
const found = (report: FrameSetReport) => report.flakes.map((f) => ({ layers: f.layers, at: Math.round(f.centreUm[0] / PIXEL_UM + 160) })).sort((a, b) => a.at - b.at);
/** What must be found, by the middle of each square. */
const expected = PLACES_PX.map((place, i) => ({ layers: (i % 4) + 1, at: place + 22 }));

function expectAllFlakes(report: FrameSetReport): void {
  expect(report.problems).toEqual([]);
  const seen = found(report);
  expect(seen.map((f) => f.layers)).toEqual(expected.map((f) => f.layers));
  seen.forEach((f, i) => expect(Math.abs(f.at - (expected[i]?.at ?? 0))).toBeLessThanOrEqual(2));
}

describe('a stored set of raw mosaics of 12 bits, with a dark frame', () => {
  const size = { widthPx: 640, heightPx: 512 };
  /** The mosaic of a frame drawn twice as large, with what its sensor adds: an uneven dark level, and hot pixels. */
  function raw(k: number, shapes: readonly Shape[], own: Float32Array): CameraFrame {
    const drawn = drawFrame({ ...size, seed: k + 31, shapes, substrate: [0.3, 0.35, 0.5], noise: 0.02 });
    const mosaic = asCamera(drawn, { pixelFormat: 'bayerGR16', bits: 12, transfer: 'linear' });
    return { ...mosaic, data: Uint16Array.from(mosaic.data, (v, i) => Math.min(4095, v + Math.round(4095 * (own[i] ?? 0)))) };
  }
  const shapes = MEASURED.map((c, i): Shape => ({ corners: square(60 + 140 * i, 100 + 60 * i, 88), contrast: [c, c, 0.05 * c] }));
  const next = random(77);
  const own = Float32Array.from({ length: size.widthPx * size.heightPx }, (_, i) => 0.02 + (0.03 * (i % size.widthPx)) / size.widthPx);
  for (let n = 0; n < 80; n++) own[Math.floor(next() * own.length)] = 0.5 + 0.5 * next();
  const dark: CameraFrame = { ...size, pixelFormat: 'mono16', bits: 12, data: Uint16Array.from(own, (v) => Math.min(4095, Math.round(4095 * v))), exposureMs: 0, takenAtMs: 0 };
  const shifted = (frame: CameraFrame): CameraFrame => ({ ...frame, data: frame.data.map((v) => v << 4) });

  it.each([['in the low bits', (frame: CameraFrame) => frame], ['in the high bits', shifted]] as const)('%s: counted and measured as drawn', async (name, as) => {
    const frame = raw(0, shapes, own);
    const keys = { bayer: 'GRBG', bitDepth: 12, cameraToStageUm: [[PIXEL_UM / 2, 0], [0, -PIXEL_UM / 2]] };
    const report = await classified(`mosaic ${name}`, { frames: [{ frame: as(frame), xUm: 0 }], dark: as(dark), keys });
    expect(report.problems).toEqual([]);
    expect(report.flakes.map((f) => f.layers ?? 0).sort((a, b) => a - b)).toEqual([1, 2, 3, 4]);
    for (const flake of report.flakes) {
      const [terrace] = flake.terraces;
      const truth = MEASURED[(flake.layers ?? 0) - 1] ?? 9;
      [truth, truth, 0.05 * truth].forEach((c, i) => expect(Math.abs((terrace?.contrast[i] ?? 9) - c)).toBeLessThan(4 * (terrace?.contrastError[i] ?? 0)));
      expect(Math.abs((terrace?.areaUm2 ?? 0) / (44 * PIXEL_UM) ** 2 - 1)).toBeLessThan(0.03);
    }
    // Every number of the frame is what was stored, shifted down where it lay high.
    const stored = await (await openFrameSet(join(folder, `mosaic ${name}`))).readFrame(0);
    expect(stored).toMatchObject({ pixelFormat: 'bayerGR16', bits: 12, widthPx: 640, heightPx: 512 });
    expect(stored.data.every((v, i) => v === frame.data[i])).toBe(true);
  });
});

describe('dust on the sensor', () => {
  /** One speck that is sharp and as dark as one layer, one soft and faint: both at one place of every frame. A grey camera cannot tell them by colour. */
  const dusty = (x: number, y: number): number => {
    const [sharp, soft] = [Math.hypot((x - 0.55) * 320, (y - 0.85) * 256), Math.hypot((x - 0.3) * 320, (y - 0.8) * 256)];
    return (1 - 0.1 * ((x - 0.5) ** 2 + (y - 0.5) ** 2)) * (1 - (sharp < 9 ? 0.09 : 0)) * (1 - 0.06 * Math.exp(-(soft ** 2) / 200));
  };
  const clean = (x: number, y: number): number => 1 - 0.1 * ((x - 0.5) ** 2 + (y - 0.5) ** 2);
  const grey = (frame: CameraFrame) => asCamera(frame, { pixelFormat: 'mono16', bits: 16, transfer: 'linear' });
  const frames = (light: typeof dusty) => row([0, 1, 2, 3, 4].map((k) => grey(chipFrame(k, { light }))));

  it.each([
    ['without a blank frame', dusty, undefined],
    ['with a blank frame that shows it', dusty, dusty],
    ['with a blank frame from before it came', dusty, clean],
    ['that went after the blank frame was taken', clean, dusty],
  ] as const)('%s is no flake, and hides none', async (name, light, blank) => {
    const report = await classified(`dust ${name}`, { frames: frames(light), ...(blank ? { blank: grey(drawFrame({ seed: 99, light: blank })) } : {}) });
    expect(report.problems).toEqual([]);
    const places = found(report).map((f) => f.at);
    expect(places).toHaveLength(expected.length);
    places.forEach((at, i) => expect(Math.abs(at - (expected[i]?.at ?? 0))).toBeLessThanOrEqual(2));
  });
});

describe('frames that cannot be used', () => {
  it('are named in the report, each for its own reason, and the others are classified as if they were not there', async () => {
    const good = [0, 1, 2, 3, 4].map((k) => chipFrame(k));
    const things = [square(60, 60, 40), square(150, 100, 30), square(240, 40, 50)].map((corners): Shape => ({ corners, contrast: [-1.2, -0.33, 0.3] }));
    const same = (value: number): CameraFrame => ({ ...chipFrame(0), data: new Uint16Array(320 * 256 * 3).fill(value) });
    const [first, second] = [chipFrame(0), drawFrame({ seed: 5, shapes: things })];
    const bad: readonly (readonly [CameraFrame, string])[] = [
      [drawFrame({ substrate: [0.0005, 0.0005, 0.0005] }), 'black'],
      [drawFrame({ substrate: [1.6, 1.6, 1.6] }), 'saturated'],
      [drawFrame({ shapes: things, blurPx: 6 }), 'outOfFocus'],
      [drawFrame({ widthPx: 300 }), 'wrongSize'],
      [drawFrame({ light: (x, y) => 0.5 + 0.4 * Math.sin(90 * x) * Math.sin(80 * y) }), 'noSubstrate'],
      [{ ...first, data: Uint16Array.from(first.data, (v, i) => (i < 80 * 960 ? v : (second.data[i] ?? 0))) }, 'torn'],
      [same(20_000), 'noDetail'],
    ];
    const spoilt = bad.map(([frame], n) => ({ frame, xUm: 5000 + 500 * n }));
    const report = await classified('bad', { frames: [...row(good), ...spoilt] });
    expect(report.problems.map((p) => [p.file, p.code])).toEqual(bad.map(([, code], n) => [`frame-${5 + n}.png`, code]).sort((a, b) => (a[0] ?? '').localeCompare(b[0] ?? '')));
    expectAllFlakes({ ...report, problems: [] });
  });

  it.each([
    ['of another size', drawFrame({ widthPx: 300 }), 'wrongSize'],
    ['that is black', drawFrame({ substrate: [0, 0, 0] }), 'black'],
  ] as const)('a blank frame %s is named, and the frames do without', async (name, blank, code) => {
    const report = await classified(`blank ${name}`, { frames: row([0, 1, 2, 3, 4].map((k) => chipFrame(k))), blank });
    expect(report.problems).toEqual([{ file: 'blankFrame', code }]);
    expectAllFlakes({ ...report, problems: [] });
  });

  it('a dark frame of another size is named as well', async () => {
    const report = await classified('dark', { frames: row([0, 1, 2, 3, 4].map((k) => chipFrame(k))), dark: drawFrame({ heightPx: 200, substrate: [0, 0, 0] }) });
    expect(report.problems).toEqual([{ file: 'darkFrame', code: 'wrongSize' }]);
    expectAllFlakes({ ...report, problems: [] });
  });
});

describe('stray light that somebody measured', () => {
  it('is taken off: contrast is that of the chip without it', async () => {
    const share = 0.06;
    const veiled = row([0, 1, 2, 3, 4].map((k) => {
      const frame = chipFrame(k, { noise: 0.012 / (1 - share) });
      // A share of the substrate's level over everything: R + f R0, at the same sum on bare oxide.
      return { ...frame, data: Uint16Array.from(frame.data, (v, i) => Math.round((1 - share) * v + share * 65535 * ([0.3, 0.35, 0.5][i % 3] ?? 0))) };
    }));
    const [told, untold] = [await classified('told', { frames: veiled, keys: { strayLight: share } }), await classified('untold', { frames: veiled })];
    const thick = (report: FrameSetReport) => report.flakes.filter((f) => f.layers === 4).map((f) => f.terraces[0]?.contrast[0] ?? 9);
    expect(thick(told).length).toBeGreaterThan(0);
    for (const c of thick(told)) expect(Math.abs(c - MEASURED[3])).toBeLessThan(0.006);
    for (const c of thick(untold)) expect(Math.abs(c / MEASURED[3] - (1 - share))).toBeLessThan(0.02);
  });
});

describe('a lamp that fades by a tenth and changes its colour by 2 % over the run', () => {
  it('changes no contrast by more than 0.002', async () => {
    const count = 5;
    const level = (k: number) => 1 - (0.1 * k) / (count - 1);
    const steady = row([0, 1, 2, 3, 4].map((k) => chipFrame(k)));
    const drifting = row([0, 1, 2, 3, 4].map((k) => chipFrame(k, { substrate: [0.3 * level(k) * (1 + (0.02 * k) / (count - 1)), 0.35 * level(k), 0.5 * level(k)] })));
    const [one, other] = [await classified('steady', { frames: steady }), await classified('drifting', { frames: drifting })];
    expectAllFlakes(other);
    const contrasts = (report: FrameSetReport) => [...report.flakes].sort((a, b) => a.centreUm[0] - b.centreUm[0]).map((f) => f.terraces[0]?.contrast ?? []);
    contrasts(one).forEach((truth, i) => truth.forEach((c, channel) => expect(Math.abs((contrasts(other)[i]?.[channel] ?? 9) - c)).toBeLessThan(0.002)));
  });
});
