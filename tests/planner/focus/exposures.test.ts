import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { focusExposures, searchCost, searchSeconds } from '../../../planner/focus/exposures.ts';
import { expectFocus, LARGEST_BOW_UM, LARGEST_TILT_MRAD, LEAST_REACH } from '../../../planner/focus/prediction.ts';
import { addSample, beginSearch, nextZUm } from '../../../planner/focus/search.ts';
import type { StagePoint } from '../../../planner/units/index.ts';

/** Protects: how often is exposed follows from the plan alone, and is what a search then really takes. */

const at = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });
const policy = { rangeUm: 40, depthOfFieldUm: 5.83 };
/** Middle, then round the rim. */
const grid = [at(5000, 5000), at(5000, 500), at(500, 500), at(500, 5000), at(500, 9500), at(5000, 9500), at(9500, 9500), at(9500, 5000), at(9500, 500)];
const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });

/** Exposures of a search that is carried out on a peak in the middle of its range. */
function carriedOut(rangeUm: number, depthOfFieldUm: number): number {
  let state = beginSearch({ centreUm: 1000, rangeUm, depthOfFieldUm, zMinUm: 0, zMaxUm: 5000 });
  for (let zUm = nextZUm(state); zUm !== undefined; zUm = nextZUm(state)) state = addSample(state, zUm, 1 + 1 / (1 + ((zUm - 1000) / depthOfFieldUm) ** 2));
  return state.samples.length;
}

describe('exposures of one search', () => {
  it('are those that the search takes, whatever the range', () => {
    fc.assert(fc.property(number(1, 400), number(0.5, 12), (rangeUm, depthOfFieldUm) => {
      expect(searchCost(rangeUm, depthOfFieldUm, 1).exposures).toBe(carriedOut(rangeUm, depthOfFieldUm));
    }));
  });

  it('take as long as worked out by hand: 7 of them over 3 depths of field of 4 um', () => {
    // Steps of 2 um: 2 sqrt(2/10000) s = 28.3 ms, and 20 ms to settle, longer than 40 ms of readout. Ways: 7 um down, 1 up, 7 down, 1 up.
    const cost = searchCost(6, 4, 1);
    const step = 2 * Math.sqrt(2 / 1e4) + 0.02;
    const ways = 2 * (2 * Math.sqrt(7 / 1e4) + 2 * Math.sqrt(1 / 1e4));
    const seconds = searchSeconds(cost, { exposureMs: 8, readoutMs: 40, focusSettleMs: 20, focusSpeedUmPerS: 500, focusAccelerationUmPerS2: 10_000 });
    expect(cost.exposures).toBe(7);
    // Seven exposures, six steps, the first settled for, the last read out; then two whole frames, each settled for, exposed and read out.
    expect(seconds).toBeCloseTo(7 * 0.008 + 6 * step + 0.02 + 0.04 + ways + 2 * (0.02 + 0.008 + 0.04), 9);
  });
});

describe('exposures of a chip', () => {
  it('fall from point to point; the last is the first point once more, with the fewest', () => {
    const { first, later, total, searches } = focusExposures({ ...policy, pointsUm: grid, takeUpUm: 1 });
    expect(first).toBe(carriedOut(40, 5.83) + 2);
    expect(searches).toHaveLength(grid.length + 1);
    expect(total).toBe(first + later.reduce((sum, count) => sum + count, 0));
    // Over 2.5 depths of field to both sides in steps of half a depth of field.
    expect(later.at(-1)).toBe(11);
    expect(later.at(-2)).toBeLessThan(0.6 * first);
    expect(total).toBeLessThan(0.75 * first * searches.length);
  });

  it('are none without points', () => {
    expect(focusExposures({ ...policy, pointsUm: [], takeUpUm: 1 })).toEqual({ first: 0, later: [], total: 0, searches: [] });
  });
});

describe('the prediction of the next point', () => {
  it('reaches as far as the whole range with nothing known, and as the largest tilt and bow make it with one point', () => {
    expect(expectFocus([], at(0, 0), 990, policy)).toEqual({ centreUm: 990, rangeUm: 40 });
    // 2 mm away at 6 mrad are 12 um; the only point known is as far as any, so that all of the bow is allowed for.
    expect(expectFocus([{ atUm: at(2000, 0), zUm: 1003 }], at(0, 0), 990, policy)).toEqual({ centreUm: 1003, rangeUm: 2 * LARGEST_TILT_MRAD + LARGEST_BOW_UM });
  });

  it('holds the truth of any chip up to that tilt and a bow of 10 um, from the third point on, within the range it asks for', () => {
    fc.assert(fc.property(number(0, 5), number(0, 2 * Math.PI), number(-5, 5), fc.integer({ min: 3, max: 8 }), (tiltMrad, direction, bowUm, known) => {
      const z = ({ xUm, yUm }: StagePoint): number => {
        const [u, v] = [(xUm - 5000) / 5000, (yUm - 5000) / 5000];
        return 1000 + (tiltMrad / 1000) * 5000 * (u * Math.cos(direction) + v * Math.sin(direction)) + bowUm * (1 - u * u - v * v);
      };
      const place = grid[known] ?? at(0, 0);
      const { centreUm, rangeUm } = expectFocus(grid.slice(0, known).map((atUm) => ({ atUm, zUm: z(atUm) })), place, 1000, policy);
      expect(Math.abs(z(place) - centreUm)).toBeLessThanOrEqual(rangeUm + 1e-6);
      expect(rangeUm).toBeGreaterThanOrEqual(LEAST_REACH * policy.depthOfFieldUm);
      expect(rangeUm).toBeLessThanOrEqual(policy.rangeUm);
    }));
  });
});
