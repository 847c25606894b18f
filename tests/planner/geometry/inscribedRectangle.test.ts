import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { inscribedRectangle } from '../../../planner/geometry/inscribedRectangle.ts';
import type { Region } from '../../../planner/geometry/region.ts';
import type { StagePoint } from '../../../planner/units/index.ts';
import { bruteRectangle, cornersOf, isIn, liesInside } from './bruteRectangle.ts';
import { angle, at, randomRegion, regionOf, turned } from './shapes.ts';

const areaOf = (region: Region<'stage'>): number => {
  const bar = inscribedRectangle(region);
  if (!bar) return 0;
  expect(liesInside(region, bar)).toBe(true);
  return bar.lengthUm * bar.widthUm;
};
/** At most the true value, and short of it by one per cent at most: the search stops at small steps. */
const nearly = (found: number | undefined, truth: number): void => {
  expect(found).toBeLessThanOrEqual(truth * (1 + 1e-6));
  expect(found).toBeGreaterThan(truth * 0.99);
};
const side = fc.double({ min: 1, max: 100, noNaN: true });

describe('largest inscribed rectangle, closed forms', () => {
  it('is the rectangle itself, at its own angle, however it is turned', () => {
    fc.assert(
      fc.property(side, side, angle, (w, h, a) => {
        const bar = inscribedRectangle(regionOf([at(0, 0), at(w, 0), at(w, h), at(0, h)].map((p) => turned(p, a))));
        nearly(bar?.lengthUm, Math.max(w, h));
        nearly(bar?.widthUm, Math.min(w, h));
        const along = (w >= h ? a : a + Math.PI / 2) * (180 / Math.PI);
        const off = ((((bar?.angleDeg ?? 0) - along + 90) % 180) + 180) % 180 - 90;
        if (Math.max(w, h) > 1.01 * Math.min(w, h)) expect(Math.abs(off)).toBeLessThan(0.3);
      }),
      { numRuns: 40 },
    );
  });

  it('is the square of side r sqrt 2 in a circle (largest inscribed rectangle of a circle: 2 r squared)', () => {
    const circle = Array.from({ length: 180 }, (_, i) => at(10 * Math.cos((i * Math.PI) / 90), 10 * Math.sin((i * Math.PI) / 90)));
    const area = areaOf(regionOf(circle));
    nearly(area, 200);
  });

  it('is half the area of any acute or right triangle (rectangle on one side at half the height)', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.2, max: 0.8, noNaN: true }), side, angle, (foot, base, a) => {
        const height = base * Math.sqrt(Math.max(foot * (1 - foot), 0.01)) * 1.2;
        const area = areaOf(regionOf([at(0, 0), at(base, 0), at(foot * base, height)].map((p) => turned(p, a))));
        nearly(area, (base * height) / 4);
      }),
      { numRuns: 30 },
    );
  });

  it('is the longer arm of an L', () => {
    // Arms of width 10: 60 x 10 along x, 40 x 10 along y.
    const ell = [at(0, 0), at(60, 0), at(60, 10), at(10, 10), at(10, 40), at(0, 40)].map((p) => turned(p, 0.7));
    nearly(areaOf(regionOf(ell)), 600);
  });

  it('keeps clear of holes: the strip beside a square hole', () => {
    const outline = [at(0, 0), at(40, 0), at(40, 20), at(0, 20)].map((p) => turned(p, 1.1));
    const hole = [at(10, 6), at(18, 6), at(18, 14), at(10, 14)].map((p) => turned(p, 1.1));
    // To the right of the hole: 22 x 20.
    nearly(areaOf({ outlineUm: outline, holesUm: [hole] }), 440);
  });

  it('finds nothing where there is no area, and refuses two corners', () => {
    expect(inscribedRectangle(regionOf([at(0, 0), at(1, 1), at(2, 2)]))).toBeUndefined();
    expect(() => inscribedRectangle(regionOf([at(0, 0), at(1, 1)]))).toThrow(RangeError);
  });
});

describe('largest inscribed rectangle against trying everything', () => {
  it('has at least 95 % of the area of an exhaustive search, over random outlines, concave ones and holes among them', () => {
    fc.assert(
      fc.property(randomRegion, (region) => {
        expect(areaOf(region)).toBeGreaterThanOrEqual(0.95 * bruteRectangle(region, 30, 44));
      }),
      { numRuns: 60 },
    );
  });

  it('does not depend on how the outline is turned or where it lies', () => {
    fc.assert(
      fc.property(randomRegion, angle, (region, a) => {
        const move = (ring: readonly StagePoint[]): readonly StagePoint[] => ring.map((p) => turned(p, a));
        const moved = { outlineUm: move(region.outlineUm), holesUm: region.holesUm.map(move) };
        const [before, after] = [areaOf(region), areaOf(moved)];
        expect(Math.min(before, after) / Math.max(before, after)).toBeGreaterThan(0.95);
      }),
      { numRuns: 60 },
    );
  });

  it('lies inside with all its corners', () => {
    fc.assert(
      fc.property(randomRegion, (region) => {
        const bar = inscribedRectangle(region);
        if (!bar) return;
        const drawnIn = cornersOf({ ...bar, lengthUm: bar.lengthUm * 0.999, widthUm: bar.widthUm * 0.999 });
        for (const corner of drawnIn) expect(isIn(region, corner.xUm, corner.yUm)).toBe(true);
      }),
      { numRuns: 60 },
    );
  });
});
