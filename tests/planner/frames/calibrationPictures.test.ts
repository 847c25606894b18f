import { describe, expect, it } from 'vitest';
import { findLines } from '../../../planner/frames/calibration/lines.ts';
import { findPatch, resampledDown } from '../../../planner/frames/calibration/magnified.ts';
import { shiftNear } from '../../../planner/frames/calibration/shiftNear.ts';
import { freeWaves, noiseGenerator, wavePicture, type Wave } from './wavePicture.ts';

/** Protects: what calibrations read off pictures. Truth is exact by construction: the pictures are made of waves, or of lines with known places. */

describe('a shift that is roughly known', () => {
  it.each([
    [1, 130.37, -60.81, 128, -64],
    [2, -171.2, 20.45, -165, 12],
    [3, 0.3, 0.2, 3, -4],
  ])('is found within 0.05 px even where little is common (seed %d)', (seed, colPx, rowPx, expectedCol, expectedRow) => {
    const waves = freeWaves(seed, 90, 1.5);
    const result = shiftNear(wavePicture(waves, 256, 208, 0, 0, 0.1, seed), wavePicture(waves, 256, 208, colPx, rowPx, 0.1, seed + 9), { colPx: expectedCol, rowPx: expectedRow, withinPx: 16 });
    if (!result.ok) throw new Error(JSON.stringify(result.refusal));
    expect(Math.hypot(result.shift.colPx - colPx, result.shift.rowPx - rowPx)).toBeLessThan(0.05);
  });

  it('is not believed further away than it may be, nor between unrelated pictures', () => {
    const waves = freeWaves(4, 90, 1.5);
    const first = wavePicture(waves, 192, 192, 0, 0, 0.1, 1);
    expect(shiftNear(first, wavePicture(waves, 192, 192, 40, 0, 0.1, 2), { colPx: 0, rowPx: 0, withinPx: 20 }).ok).toBe(false);
    expect(shiftNear(first, wavePicture(freeWaves(5, 90, 1.5), 192, 192, 0, 0, 0.1, 2), { colPx: 0, rowPx: 0, withinPx: 20 }).ok).toBe(false);
    expect(shiftNear(first, first, { colPx: 150, rowPx: 0, withinPx: 20 })).toMatchObject({ ok: false, refusal: { code: 'commonPartTooSmall' } });
  });
});

/** Dark lines of a given width on a bright ground under uneven light, by the covered share of each pixel along the lines' normal, with noise. */
function ruled(widthPx: number, heightPx: number, periodPx: number, angleDeg: number, linePx: number, seed: number) {
  const next = noiseGenerator(seed);
  const [c, s] = [Math.cos((angleDeg * Math.PI) / 180), Math.sin((angleDeg * Math.PI) / 180)];
  /** Length of line up to here along the normal. */
  const dark = (t: number): number => Math.floor(t / periodPx) * linePx + Math.min(linePx, t - periodPx * Math.floor(t / periodPx));
  const data = Float64Array.from({ length: widthPx * heightPx }, (_, i) => {
    const [col, row] = [i % widthPx, Math.floor(i / widthPx)];
    const t = 1000 * periodPx + col * c + row * s;
    const light = 1 - 0.1 * ((col / widthPx - 0.5) ** 2 + (row / heightPx - 0.5) ** 2);
    return 200 * light * (1 - 0.3 * (dark(t + 0.5) - dark(t - 0.5))) + 6 * (next() + next() - 1);
  });
  return { widthPx, heightPx, data };
}

describe('lines at equal distances', () => {
  it.each([
    [14.4928, 0, 2.9, 320, 300],
    [14.4928, 90, 2.9, 320, 300],
    [9.271, 31.7, 1.6, 512, 300],
    [37.77, -62, 12, 640, 500],
    [6.13, 45, 3, 260, 260],
  ])('%d px apart at %d degrees: the period within 0.02 %%, a fifth of the bar', (periodPx, angleDeg, linePx, widthPx, heightPx) => {
    const result = findLines(ruled(widthPx, heightPx, periodPx, angleDeg, linePx, 8));
    if (!result.ok) throw new Error(JSON.stringify(result.refusal));
    expect(Math.abs(result.grating.periodPx / periodPx - 1)).toBeLessThan(0.0002);
    const turnDeg = (Math.atan2(result.grating.perRow, result.grating.perCol) * 180) / Math.PI;
    expect(Math.abs(Math.sin(((turnDeg - angleDeg) * Math.PI) / 180))).toBeLessThan(0.001);
  });

  it('are not found in noise or in flakes', () => {
    const next = noiseGenerator(3);
    expect(findLines({ widthPx: 256, heightPx: 256, data: Float64Array.from({ length: 65_536 }, next) })).toMatchObject({ ok: false, refusal: { code: 'noLines' } });
    expect(findLines({ widthPx: 256, heightPx: 256, data: new Float64Array(65_536).fill(3) })).toMatchObject({ ok: false });
  });
});

describe('a picture across a change of objective', () => {
  /** The same waves through an objective that is stronger by 1/ratio, its middle at a place of the weaker picture. */
  const stronger = (waves: readonly Wave[], ratio: number, width: number, height: number, colPx: number, rowPx: number, weakWidth: number, weakHeight: number) => {
    const finer = waves.map(({ perCol, perRow, phase }) => ({ perCol: perCol * ratio, perRow: perRow * ratio, phase }));
    // wavePicture draws waves from the first pixel's centre: bring the middles together.
    const toWeak = (side: number, weak: number, off: number): number => (weak - 1) / 2 + off - (ratio * (side - 1)) / 2;
    return wavePicture(finer, width, height, -toWeak(width, weakWidth, colPx) / ratio, -toWeak(height, weakHeight, rowPx) / ratio, 0.2, 77);
  };

  it.each([
    [0.2, 31.4, -18.7],
    [0.5, -60.2, 44.9],
  ])('is found within 0.1 px of the weaker one (pixel ratio %d)', (ratio, colPx, rowPx) => {
    const waves = freeWaves(12, 70, 1.2);
    const weak = wavePicture(waves, 400, 320, 0, 0, 0.1, 3);
    const [width, height] = [Math.round(140 / ratio), Math.round(110 / ratio)];
    const patch = resampledDown(stronger(waves, ratio, width, height, colPx, rowPx, 400, 320), ratio);
    const found = patch && findPatch(patch, weak, 90);
    if (!found) throw new Error('not found');
    expect(Math.hypot(found.colPx - colPx, found.rowPx - rowPx)).toBeLessThan(0.1);
  });

  it('is not found where it is not, and too small a picture is not used', () => {
    const patch = wavePicture(freeWaves(20, 60, 1.2), 128, 96, 0, 0);
    expect(findPatch(patch, wavePicture(freeWaves(21, 60, 1.2), 256, 256, 0, 0), 60)).toBeUndefined();
    expect(resampledDown(patch, 0.2)).toBeUndefined();
  });
});
