import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fitFocusPeak } from '../../../planner/focus/peak.ts';
import { addSample, beginSearch, belowUm, MAX_EXPOSURES, nextZUm, runUpZUm } from '../../../planner/focus/search.ts';
import type { SearchRequest, SearchState } from '../../../planner/focus/search.ts';
import { noiseGenerator } from '../frames/wavePicture.ts';

type Curve = (zUm: number) => number;
/** foot + rise / (1 + (z/w)^2)^power: power 1/2 for edges, 2 for specks, for a blur that grows with defocus. */
const curve = (peakUm: number, halfWidthUm: number, rise: number, power = 1): Curve => (zUm) => 100 * (1 + rise * (1 + ((zUm - peakUm) / halfWidthUm) ** 2) ** -power);
function noisy(clean: Curve, share: number, seed: number): Curve {
  const next = noiseGenerator(seed);
  return (zUm) => clean(zUm) * (1 + share * (next() + next() + next() + next() - 2) * Math.sqrt(3));
}

const request: SearchRequest = { centreUm: 1500, rangeUm: 40, depthOfFieldUm: 6.5, zMinUm: 1000, zMaxUm: 3000 };
function search(asked: SearchRequest, sharpness: Curve): { state: SearchState; zs: number[] } {
  let state = beginSearch(asked);
  const zs: number[] = [];
  for (let zUm = nextZUm(state); zUm !== undefined; zUm = nextZUm(state)) {
    zs.push(zUm);
    state = addSample(state, zUm, sharpness(zUm));
  }
  return { state, zs };
}
const peakOf = ({ state }: { state: SearchState }) => {
  if (!state.outcome?.ok) throw new Error(JSON.stringify(state.outcome));
  return state.outcome.peak;
};
const refusalOf = ({ state }: { state: SearchState }) => (state.outcome && !state.outcome.ok ? state.outcome.refusal : undefined);

describe('fitted peak', () => {
  const zs = Array.from({ length: 15 }, (_, i) => 1480 + 3 * i);

  it('gives place, width and rise of a bell back', () => {
    const sharp = curve(1503.7, 5, 0.4);
    const result = fitFocusPeak(zs.map((zUm) => ({ zUm, sharpness: sharp(zUm) })), 1);
    if (!result.ok) throw new Error(result.refusal.code);
    expect(result.peak.zUm).toBeCloseTo(1503.7, 3);
    expect(result.peak.halfWidthUm).toBeCloseTo(5, 2);
    expect(result.peak.rise).toBeCloseTo(0.4, 3);
  });

  it('states an error that fits the true one: root mean square of their ratio between 0.7 and 1.4 over 200 runs', () => {
    let squares = 0;
    for (let seed = 1; seed <= 200; seed += 1) {
      const sharp = noisy(curve(1503.7, 5, 0.4), 0.02, seed);
      const result = fitFocusPeak(zs.map((zUm) => ({ zUm, sharpness: sharp(zUm) })), 1.6);
      if (!result.ok) throw new Error(result.refusal.code);
      squares += ((result.peak.zUm - 1503.7) / result.peak.errorUm) ** 2;
    }
    expect(Math.sqrt(squares / 200)).toBeGreaterThan(0.7);
    expect(Math.sqrt(squares / 200)).toBeLessThan(1.4);
  });

  it('does not believe scatter: 300 flat curves, 300 refusals', () => {
    for (let seed = 1; seed <= 300; seed += 1) {
      const sharp = noisy(() => 100, 0.03, seed);
      expect(fitFocusPeak(zs.map((zUm) => ({ zUm, sharpness: sharp(zUm) })), 1.6)).toMatchObject({ ok: false, refusal: { code: 'flatCurve' } });
    }
  });

  it('does not believe a hollow, a constant, or fewer than seven samples', () => {
    const hollow = zs.map((zUm) => ({ zUm, sharpness: 200 - curve(1500, 5, 0.4)(zUm) }));
    expect(fitFocusPeak(hollow, 1.6).ok).toBe(false);
    expect(fitFocusPeak(zs.map((zUm) => ({ zUm, sharpness: 7 })), 1.6)).toMatchObject({ ok: false, refusal: { code: 'flatCurve' } });
    expect(fitFocusPeak(hollow.slice(0, 6), 1.6)).toEqual({ ok: false, refusal: { code: 'tooFewSamples', samples: 6, least: 7 } });
  });

  it('says at which end sharpness still grows', () => {
    const ends = [1470, 1535].map((peakUm) => fitFocusPeak(zs.map((zUm) => ({ zUm, sharpness: curve(peakUm, 8, 2)(zUm) })), 1));
    expect(ends.map((result) => !result.ok && result.refusal)).toEqual([
      { code: 'peakAtEnd', end: 'low', zUm: 1480 },
      { code: 'peakAtEnd', end: 'high', zUm: 1522 },
    ]);
  });
});

describe('search from coarse to fine', () => {
  it('finds edges, specks and the bell within a twentieth of the depth of field', () => {
    for (const power of [0.5, 1, 2]) {
      for (const peakUm of [1466, 1488.3, 1500, 1517.77, 1535]) {
        expect(Math.abs(peakOf(search(request, curve(peakUm, 3, 1, power))).zUm - peakUm)).toBeLessThan(0.325);
      }
    }
  });

  it('finds a faint peak in 1 % noise within a tenth of the depth of field, 100 of 100 times', () => {
    for (let seed = 1; seed <= 100; seed += 1) {
      const peakUm = 1470 + (seed % 60);
      expect(Math.abs(peakOf(search(request, noisy(curve(peakUm, 3, 0.5), 0.01, seed))).zUm - peakUm)).toBeLessThan(0.65);
    }
  });

  it('recognises bare oxide: 200 flat curves, 200 refusals', () => {
    for (let seed = 1; seed <= 200; seed += 1) expect(refusalOf(search(request, noisy(() => 100, 0.02, seed)))?.code).toBe('flatCurve');
  });

  it('is not taken in by one spoilt frame', () => {
    let count = 0;
    const spoilt: Curve = (zUm) => noisy(() => 100, 0.005, Math.round(zUm * 10))(zUm) + ((count += 1) === 5 ? 60 : 0);
    expect(refusalOf(search(request, spoilt))?.code).toBe('flatCurve');
  });

  it('says that the peak lies beyond the range, and where nothing can be reached', () => {
    expect(refusalOf(search(request, curve(1555, 10, 3)))).toMatchObject({ code: 'peakAtEnd', end: 'high' });
    expect(refusalOf(search({ ...request, zMaxUm: 1400 }, curve(1500, 3, 1)))).toEqual({ code: 'noReachableZ', zMinUm: 1000, zMaxUm: 1400 });
  });

  it('stays within the limits and the bound of exposures, and rises within each sweep (any request, any sharpness)', () => {
    const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
    fc.assert(
      fc.property(number(900, 3100), number(1, 500), number(0.2, 60), fc.integer({ min: 0, max: 1e6 }), fc.boolean(), (centreUm, rangeUm, depthOfFieldUm, seed, isFlat) => {
        const next = noiseGenerator(seed);
        const asked = { ...request, centreUm, rangeUm, depthOfFieldUm };
        let state = beginSearch(asked);
        let lastUm = Infinity;
        let exposures = 0;
        for (let zUm = nextZUm(state); zUm !== undefined; zUm = nextZUm(state)) {
          const from = runUpZUm(state) ?? lastUm;
          expect(from <= zUm && from >= asked.zMinUm && zUm >= asked.zMinUm && zUm <= asked.zMaxUm).toBe(true);
          // Only the lower limit itself has nothing below to come from.
          expect(from < zUm || zUm === asked.zMinUm).toBe(true);
          state = addSample(state, zUm, isFlat ? next() : curve(centreUm, depthOfFieldUm / 2, 1)(zUm));
          lastUm = zUm;
          exposures += 1;
        }
        expect(exposures).toBeLessThanOrEqual(MAX_EXPOSURES);
        expect(state.phase).toBe('done');
        expect(state.outcome).toBeDefined();
      }),
      { numRuns: 40 },
    );
  });

  it('takes no sharpness for none, and nothing more once done', () => {
    const { state } = search(request, () => NaN);
    expect(state.outcome?.ok).toBe(false);
    expect(addSample(state, 1500, 5)).toBe(state);
    expect(belowUm(request, 1500)).toBe(1493.5);
    expect(belowUm(request, 1001)).toBe(1000);
  });
});
