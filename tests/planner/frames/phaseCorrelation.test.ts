import { describe, expect, it } from 'vitest';
import { transform } from '../../../planner/frames/fourier.ts';
import { measureShift } from '../../../planner/frames/phaseCorrelation.ts';
import { freeWaves, generator, seamlessWaves, wavePicture } from './wavePicture.ts';

function shiftOf(...args: Parameters<typeof measureShift>) {
  const result = measureShift(...args);
  if (!result.ok) throw new Error(JSON.stringify(result.refusal));
  return result.shift;
}

describe('Fourier transform', () => {
  it('agrees with the sum it stands for, and comes back', () => {
    const [width, height] = [8, 4];
    const next = generator(3);
    const re = Float64Array.from({ length: 32 }, () => next() - 0.5);
    const im = Float64Array.from({ length: 32 }, () => next() - 0.5);
    const spectrum = { width, height, re: re.slice(), im: im.slice() };
    transform(spectrum);
    for (const [kx, ky] of [[0, 0], [3, 1], [7, 2], [4, 3]] as const) {
      let sum = 0;
      for (let i = 0; i < 32; i += 1) {
        const angle = -2 * Math.PI * ((kx * (i % width)) / width + (ky * Math.floor(i / width)) / height);
        sum += (re[i] ?? NaN) * Math.cos(angle) - (im[i] ?? NaN) * Math.sin(angle);
      }
      expect(spectrum.re[ky * width + kx]).toBeCloseTo(sum, 12);
    }
    const back = { width, height, re: spectrum.im, im: spectrum.re };
    transform(back);
    back.im.forEach((value, i) => expect(value / 32).toBeCloseTo(re[i] ?? NaN, 12));
  });

  it('refuses sides that are no powers of two', () => {
    expect(() => transform({ width: 6, height: 4, re: new Float64Array(24), im: new Float64Array(24) })).toThrow(RangeError);
  });
});

describe('shift between two pictures', () => {
  // skimage 0.19.3 (numpy 1.24.2), skimage.registration.phase_cross_correlation(first, second, upsample_factor=100), both with
  // normalization=None and 'phase': (row, column) that brings the second picture back onto the first, so minus the shift. The pictures
  // are seamlessWaves(seed, 400, 24, 128), built in Python from the same generator.
  it.each([
    [7, 3.37, -5.71, [5.71, -3.37]],
    [8, -0.25, 0.5, [-0.5, 0.25]],
    [9, 11.62, 2.18, [-2.18, -11.62]],
    [10, 0.06, -0.03, [0.03, -0.06]],
  ])('agrees with skimage on picture %d within 0.04 px', (seed, colPx, rowPx, [backRowPx = NaN, backColPx = NaN]) => {
    const waves = seamlessWaves(seed, 400, 24, 128);
    const shift = shiftOf(wavePicture(waves, 128, 128, 0, 0), wavePicture(waves, 128, 128, colPx, rowPx));
    expect(Math.abs(shift.colPx + backColPx)).toBeLessThan(0.04);
    expect(Math.abs(shift.rowPx + backRowPx)).toBeLessThan(0.04);
  });

  // Exact by construction: the waves are moved by that much.
  it.each([
    [21, 160, 140, 0.5, 0.25],
    [22, 200, 150, -17.3, 8.81],
    [23, 256, 256, 41.44, -28.06],
  ])('finds the shift of band-limited noise without a seam at its edges (seed %d) within 0.05 px, pixel noise of a tenth included', (seed, w, h, colPx, rowPx) => {
    const waves = freeWaves(seed, 200, 1.5);
    const shift = shiftOf(wavePicture(waves, w, h, 0, 0, 0.1, seed), wavePicture(waves, w, h, colPx, rowPx, 0.1, seed + 1000));
    expect(Math.hypot(shift.colPx - colPx, shift.rowPx - rowPx)).toBeLessThan(0.05);
  });

  it('turns its sign with the order of the pictures', () => {
    const waves = freeWaves(31, 150, 1.5);
    const a = wavePicture(waves, 128, 128, 0, 0);
    const b = wavePicture(waves, 128, 128, 6.2, -3.4);
    const there = shiftOf(a, b);
    const back = shiftOf(b, a);
    expect(there.colPx + back.colPx).toBeCloseTo(0, 1);
    expect(there.rowPx + back.rowPx).toBeCloseTo(0, 1);
  });
});

describe('what is not to be trusted', () => {
  it('refuses unrelated pictures, smooth, fine or white', () => {
    for (const [seed, most] of [[41, 0.1], [42, 0.4], [43, 1.5], [44, 3.1]] as const) {
      const result = measureShift(wavePicture(freeWaves(seed, 80, most), 128, 128, 0, 0, 0.05, 1), wavePicture(freeWaves(seed + 50, 80, most), 128, 128, 0, 0, 0.05, 2));
      expect(result.ok ? result.shift : result.refusal.code).toBe('noTrustworthyPeak');
    }
    for (let seed = 60; seed < 80; seed += 1) {
      const result = measureShift(wavePicture([], 64, 64, 0, 0, 1, seed), wavePicture([], 64, 64, 0, 0, 1, seed + 500));
      expect(result.ok).toBe(false);
    }
  });

  it('refuses blank pictures', () => {
    const blank = { widthPx: 64, heightPx: 64, data: new Float32Array(64 * 64).fill(7) };
    expect(measureShift(blank, blank)).toMatchObject({ ok: false, refusal: { code: 'noTrustworthyPeak', score: 0 } });
  });

  it('refuses pictures that are too small, and throws for unlike sizes', () => {
    const picture = (widthPx: number, heightPx: number) => wavePicture(freeWaves(5, 20, 1), widthPx, heightPx, 0, 0);
    expect(measureShift(picture(20, 64), picture(20, 64))).toMatchObject({ ok: false, refusal: { code: 'commonPartTooSmall', widthPx: 20 } });
    expect(() => measureShift(picture(64, 64), picture(64, 65))).toThrow(RangeError);
  });
});
