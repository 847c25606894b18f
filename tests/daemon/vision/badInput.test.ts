import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import { frameFaults, type FrameMeasurement, type OpticalContext } from '../../../daemon/vision/types.ts';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import { addTile, emptyBook, flakesOf, rereadBook } from '../../../planner/flakes/book.ts';
import { drawFrame, drawnPose, random, square, type Shape } from './drawFrame.ts';

/** Protects: a frame that shows no chip gets a named reason and never a flake; torn frames are told from sharp edges. Drawn by hand. */

const optics: OpticalContext = { transfer: 'linear', numericalAperture: 0.45, dark: [0, 0, 0], flare: [0, 0, 0] };
const measure = (frame: CameraFrame): FrameMeasurement => measureFrame({ frame, pose: drawnPose(frame), optics });

const THICK = [-1.2, -0.33, 0.3] as const;
const ONE = [0.09, 0.09, 0.005] as const;
const rowOf = (row: number): number => row * 320 * 3;
/** The upper part of one frame over the lower part of another. */
const torn = (upper: CameraFrame, lower: CameraFrame, row: number): CameraFrame => ({ ...upper, data: Uint16Array.from(upper.data, (v, i) => (i < rowOf(row) ? v : (lower.data[i] ?? 0))) });

describe('a torn frame', () => {
  const one = drawFrame({ seed: 3, blurPx: 0.8, shapes: [{ corners: square(60, 60, 90), contrast: ONE }, { corners: square(200, 90, 70), contrast: THICK }] });
  const other = drawFrame({ seed: 4, blurPx: 0.8, shapes: [{ corners: square(20, 90, 60), contrast: THICK }] });
  const black: CameraFrame = { ...one, data: new Uint16Array(one.data.length) };

  it.each([
    ['half from another place', torn(one, other, 121)],
    ['half from another place, at another row', torn(other, one, 128)],
    ['half never sent', torn(one, black, 137)],
    ['a tenth never sent', torn(one, black, 230)],
    ['the upper part never sent', torn(black, one, 40)],
    ['most of it never sent', torn(one, black, 60)],
  ])('%s is named, and shows no flake', (_, frame) => {
    expect(measure(frame)).toMatchObject({ fault: 'torn', detections: [] });
  });

  it('is not seen in what merely begins along a row: the edges of crystals and marks as sharp as the optics make them', () => {
    // 0.21 wavelength / NA over half a um a pixel, with the pixel itself: the sharpest edge that this pose can show (see pointSpread).
    const sharpest = Math.hypot((0.21 * 0.55) / 0.45 / 0.5, Math.sqrt(1 / 12));
    const bar = (row: number): Shape => ({ corners: [[10, row], [310, row], [310, row + 40], [10, row + 40]], contrast: [-2, -2, -2] });
    for (const row of [70, 70.5, 110.25]) expect(measure(drawFrame({ heightPx: 384, shapes: [bar(row), bar(row + 150)], blurPx: sharpest })).fault).toBeUndefined();
  });

  it('is not seen where full scale cuts an edge off', () => {
    for (const row of [60, 60.25, 60.5, 60.75]) {
      const bright: Shape = { corners: [[30, row], [290, row], [290, row + 70], [30, row + 70]], contrast: [-6, -5, -4] };
      expect(measure(drawFrame({ shapes: [bright], blurPx: 0.6 })).fault).toBeUndefined();
    }
  });

  it('nothing is torn where nothing differs: two halves of bare oxide show no flake', () => {
    expect(measure(torn(drawFrame({ seed: 8 }), drawFrame({ seed: 9 }), 100)).detections).toEqual([]);
  });
});

describe('a frame that is partly of use', () => {
  it.each([['full', 65535], ['black', 0]] as const)('with a third of it %s is measured in the rest', (_, value) => {
    const whole = drawFrame({ seed: 5, shapes: [{ corners: square(40, 40, 40), contrast: ONE }] });
    // Right of a slant: what a bright mark or the end of the chip looks like.
    const data = Uint16Array.from(whole.data, (v, i) => ((Math.floor(i / 3) % 320) + Math.floor(i / 960) / 4 > 240 ? value : v));
    const m = measure({ ...whole, data });
    expect(m.fault).toBeUndefined();
    expect(m.substrate[0]).toBeCloseTo(0.3, 2);
    expect(m.detections.flatMap((d) => d.terraces).filter((t) => Math.abs((t.contrast[0] ?? 9) - 0.09) < 0.01)).toHaveLength(1);
  });
});

describe('a frame without a picture', () => {
  it.each([[0, 'black'], [90, 'noDetail'], [255, 'saturated']] as const)('of nothing but the number %i is %s', (value, fault) => {
    const frame: CameraFrame = { widthPx: 320, heightPx: 256, pixelFormat: 'rgb8', bits: 8, data: new Uint8Array(320 * 256 * 3).fill(value), exposureMs: 1, takenAtMs: 0 };
    expect(measure(frame)).toMatchObject({ fault, detections: [] });
  });

  it('of three even colours has no detail either', () => {
    const data = Uint8Array.from({ length: 320 * 256 * 3 }, (_, i) => [90, 100, 180][i % 3] ?? 0);
    expect(measure({ widthPx: 320, heightPx: 256, pixelFormat: 'rgb8', bits: 8, data, exposureMs: 1, takenAtMs: 0 }).fault).toBe('noDetail');
  });
});

describe('garbage', () => {
  const [widthPx, heightPx] = [160, 128];
  const count = widthPx * heightPx * 3;
  type Fill = (i: number, next: () => number) => number;
  const kinds: Record<string, Fill> = {
    everything: (_, next) => 256 * next(),
    dark: (_, next) => 20 * next(),
    bright: (_, next) => 240 + 16 * next(),
    'salt and pepper': (_, next) => (next() < 0.5 ? 0 : 255),
    'few of many': (_, next) => (next() < 0.02 ? 255 : 100 + 3 * next()),
    'counting up': (i) => i % 256,
    rows: (i, next) => 40 + 30 * (Math.floor(i / 3 / widthPx) % 7) + 3 * next(),
    columns: (i, next) => 40 + 30 * (Math.floor(i / 3) % 5) + 3 * next(),
    checks: (i, next) => 60 + 90 * ((Math.floor(i / 3) + Math.floor(i / 3 / widthPx)) % 2) + 3 * next(),
    ramp: (i) => (255 * i) / count,
    steep: (i, next) => ((255 * Math.floor(i / 3)) % widthPx) / widthPx + 2 * next(),
    walk: (i, next) => 128 + 60 * Math.sin(i / 97) + 40 * Math.sin(i / 3331) + 3 * next(),
  };

  it('never throws, has only named faults, and is never called a flake', () => {
    fc.assert(fc.property(fc.constantFrom(...Object.keys(kinds)), fc.integer({ min: 1, max: 1e6 }), fc.constantFrom('rgb8', 'mono8', 'bayerGR8'), (kind, seed, pixelFormat) => {
      const next = random(seed);
      const samples = pixelFormat === 'rgb8' ? count : count / 3;
      const data = Uint8Array.from({ length: samples }, (_, i) => Math.max(0, Math.min(255, (kinds[kind] as Fill)(pixelFormat === 'rgb8' ? i : 3 * i, next))));
      const frame: CameraFrame = { widthPx, heightPx, pixelFormat, bits: 8, data, exposureMs: 1, takenAtMs: 0 };
      const none = pixelFormat === 'mono8' ? [0] : [0, 0, 0];
      const m = measureFrame({ frame, pose: drawnPose(frame), optics: { ...optics, dark: none, flare: none } });
      if (m.fault !== undefined) expect(frameFaults).toContain(m.fault);
      if (m.fault !== undefined) expect(m.detections).toEqual([]);
      const context = { chip: 'c', material: 'graphene', oxideNm: 290, numericalAperture: 0.45, lamp: 'halogen', whiteBalance: 'unknown', layersFrom: 1, layersTo: 4, leastUsableUm: 3 } as const;
      const book = rereadBook(addTile(emptyBook(context), 0, drawnPose(frame), m.detections).book).book;
      // Waves can be as even as a terrace over three pixels; nothing that anybody could use is.
      expect(flakesOf(book).filter((flake) => flake.verdict === 'flagged' && flake.usableUm >= context.leastUsableUm)).toEqual([]);
    }), { numRuns: 120 });
  });
});
