import fc from 'fast-check';
import { beforeAll, describe, expect, it } from 'vitest';
import { addOutliers, badSamples, bothSets, noBadSamples } from '../../../daemon/vision/badSamples.ts';
import { readDark } from '../../../daemon/vision/darkFrame.ts';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import type { FrameMeasurement, OpticalContext } from '../../../daemon/vision/types.ts';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import { drawFrame, drawnPose, random, square, type Scene } from './drawFrame.ts';

/** Protects: dead, hot and warm samples of a sensor change no contrast and make no detections. Truth is the same drawn scene without them. */

const optics: OpticalContext = { transfer: 'linear', numericalAperture: 0.45, dark: [0, 0, 0], flare: [0, 0, 0] };
const CONTRAST = [0.09, 0.09, 0.005] as const;
const scene: Scene = { shapes: [{ corners: square(100, 90, 50), contrast: CONTRAST }] };

const measure = (frame: CameraFrame, other: Partial<OpticalContext> = {}): FrameMeasurement => measureFrame({ frame, pose: drawnPose(frame), optics: { ...optics, ...other } });

/** What every sample adds of its own without light: a slope, a pattern, and a few warm and hot samples. */
function ownDark(count: number): Float32Array {
  const next = random(5);
  const dark = Float32Array.from({ length: count }, (_, i) => 0.01 + (0.02 * i) / count + 0.004 * next());
  for (let n = 0; n < 400; n++) dark[Math.floor(next() * count)] = 0.03 + 0.04 * next();
  for (let n = 0; n < 60; n++) dark[Math.floor(next() * count)] = 0.3 + 0.7 * next();
  return dark;
}

const withDark = (frame: CameraFrame, dark: Float32Array): CameraFrame => ({ ...frame, data: Uint16Array.from(frame.data, (v, i) => Math.min(65535, v + Math.round(65535 * (dark[i] ?? 0)))) });

let clean: CameraFrame;
let truth: FrameMeasurement;
beforeAll(() => {
  clean = drawFrame(scene);
  truth = measure(clean);
});

function expectLikeTruth(m: FrameMeasurement): void {
  expect(m.fault).toBeUndefined();
  expect(m.detections).toHaveLength(truth.detections.length);
  const [one, other] = [m.detections[0]?.terraces ?? [], truth.detections[0]?.terraces ?? []];
  expect(one).toHaveLength(1);
  other.forEach((t, i) => {
    t.contrast.forEach((c, channel) => expect(Math.abs((one[i]?.contrast[channel] ?? 9) - c)).toBeLessThan(0.001));
    expect(Math.abs((one[i]?.areaUm2 ?? 0) / t.areaUm2 - 1)).toBeLessThan(0.01);
  });
}

describe('a dark frame', () => {
  it('takes every sample\'s own level off, and hot samples out', () => {
    const own = ownDark(clean.data.length);
    const dark = readDark([withDark({ ...clean, data: new Uint16Array(clean.data.length) }, own)], 'linear');
    expect([...dark.hot]).toEqual([...own.keys()].filter((i) => (own[i] ?? 0) > 0.25));
    const read = { dark: dark.perSample, masked: dark.hot };
    expectLikeTruth(measure(withDark(clean, own), read));
    // Without the dark frame the slope and the pattern tell: the test would see a dark frame that is not used.
    expect(measure(withDark(clean, own)).detections[0]?.terraces[0]?.contrast).not.toEqual(truth.detections[0]?.terraces[0]?.contrast);
  });

  it('is the mean of several, and refuses frames of another size', () => {
    const frame = (level: number): CameraFrame => ({ ...clean, data: new Uint16Array(clean.data.length).fill(level) });
    expect(readDark([frame(100), frame(300)], 'linear').levels[1]).toBeCloseTo(200 / 65535, 6);
    expect(() => readDark([frame(1), { ...frame(1), heightPx: 1, data: new Uint16Array(clean.widthPx * 3) }], 'linear')).toThrow('wrongLength');
  });
});

describe('without a dark frame', () => {
  const bad = (seed: number, count: number): readonly (readonly [number, number])[] => {
    const next = random(seed);
    return Array.from({ length: count }, () => [Math.floor(next() * 320 * 256 * 3), next() < 0.5 ? 0 : 65535] as const);
  };
  const spoilt = (frame: CameraFrame, samples: readonly (readonly [number, number])[]): CameraFrame => {
    const data = frame.data.slice();
    for (const [at, value] of samples) data[at] = value;
    return { ...frame, data };
  };

  it('dead and hot samples are taken out of the very first frame', () => {
    // And two beside each other, of one channel, on the flake.
    const pair = [(100 * 320 + 120) * 3 + 1, (100 * 320 + 121) * 3 + 1].map((at) => [at, 65535] as const);
    const m = measure(spoilt(clean, [...bad(3, 120), ...pair]));
    expectLikeTruth(m);
    expect(m.outliers.length).toBeGreaterThan(100);
  });

  it('the smallest real thing is left alone: a dot as sharp as the optics can make it', () => {
    const m = measure(drawFrame({ shapes: [{ corners: square(200, 60, 4), contrast: [0.8, 0.8, 0.8] }, { corners: square(60, 60, 3), contrast: [-2, -2, -2] }], blurPx: 0.6 }));
    expect([...m.outliers]).toEqual([]);
    expect(m.detections).toHaveLength(2);
  });

  it('what is off in most frames is known, and is left out where it lies on an edge and does not stand out', () => {
    const onEdge = (110 * 320 + 100) * 3;
    let state = noBadSamples;
    for (let n = 0; n < 5; n++) state = addOutliers(state, measure(spoilt(drawFrame({ seed: n + 2 }), [[onEdge, 65535], ...bad(n + 20, 30)])).outliers);
    expect([...badSamples(state)]).toEqual([onEdge]);
    expectLikeTruth(measure(spoilt(clean, [[onEdge, 65535]]), { masked: badSamples(state) }));
  });

  it('stay known while they are left out, and are used again when they are well', () => {
    const at = (40 * 320 + 60) * 3 + 2;
    let state = noBadSamples;
    const night = (frames: number, value: number | undefined) => {
      for (let n = 0; n < frames; n++) {
        const frame = drawFrame({ seed: n + 50 });
        state = addOutliers(state, measure(value === undefined ? frame : spoilt(frame, [[at, value]]), { masked: badSamples(state) }).outliers);
      }
      return [...badSamples(state)];
    };
    expect(night(12, 0)).toEqual([at]);
    expect(night(12, undefined)).toEqual([]);
  });

  it('are known after three frames at the earliest, forgotten when they are well again, and bounded', () => {
    const add = (state: typeof noBadSamples, times: number, ...at: number[]) => Array.from({ length: times }).reduce<typeof noBadSamples>((s) => addOutliers(s, Int32Array.from(at)), state);
    expect([...badSamples(add(noBadSamples, 2, 7))]).toEqual([]);
    expect([...badSamples(add(noBadSamples, 3, 7))]).toEqual([7]);
    expect([...badSamples(add(add(noBadSamples, 3, 7), 3, 8))]).toEqual([]);
    expect([...badSamples(add(add(noBadSamples, 100, 7), 200, 8))]).toEqual([8]);
    let many = noBadSamples;
    for (let n = 0; n < 40; n++) many = addOutliers(many, Int32Array.from({ length: 4000 }, (_, i) => n * 4000 + i));
    expect(many.seen.size).toBeLessThan(60_000);
  });

  it('both lists make one, ascending, nothing twice', () => {
    const lists = fc.uniqueArray(fc.nat(50)).map((list) => Int32Array.from(list).sort());
    fc.assert(fc.property(lists, lists, (a, b) => {
      expect([...bothSets(a, b)]).toEqual([...new Set([...a, ...b])].sort((x, y) => x - y));
    }));
  });
});
