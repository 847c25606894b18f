import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fitRectangle } from '../../../planner/geometry/fitRectangle.ts';
import { inscribedRectangle } from '../../../planner/geometry/inscribedRectangle.ts';
import { liesInside } from './bruteRectangle.ts';
import { angle, at, randomRegion, regionOf, turned } from './shapes.ts';

const box = (w: number, h: number, a: number) => regionOf([at(0, 0), at(w, 0), at(w, h), at(0, h)].map((p) => turned(p, a)));

describe('does a bar fit', () => {
  it('fits a 20 x 5 um bar into a 21 x 5.25 um rectangle at any angle, along it', () => {
    fc.assert(
      fc.property(angle, (a) => {
        const region = box(21, 5.25, a);
        const { fits, bar, scale } = fitRectangle(region, 20, 5);
        expect(fits).toBe(true);
        expect(scale).toBeLessThanOrEqual(1.05 + 1e-9);
        expect(liesInside(region, bar)).toBe(true);
        expect([bar.lengthUm, bar.widthUm]).toEqual([20, 5]);
      }),
      { numRuns: 30 },
    );
  });

  it('does not fit one where the rectangle is too narrow by a hundredth, and says by how much it falls short', () => {
    fc.assert(
      fc.property(angle, (a) => {
        const { fits, scale } = fitRectangle(box(40, 4.95, a), 20, 5);
        expect(fits).toBe(false);
        expect(scale).toBeLessThanOrEqual(0.99 + 1e-9);
        expect(scale).toBeGreaterThan(0.97);
      }),
      { numRuns: 30 },
    );
  });

  it('fits the square of side r sqrt 2 into a circle of radius r, and no larger one', () => {
    const circle = regionOf(Array.from({ length: 120 }, (_, i) => at(10 * Math.cos((i * Math.PI) / 60), 10 * Math.sin((i * Math.PI) / 60))));
    const square = 10 * Math.SQRT2;
    expect(fitRectangle(circle, 0.98 * square, 0.98 * square).fits).toBe(true);
    expect(fitRectangle(circle, 1.001 * square, 1.001 * square).fits).toBe(false);
  });

  it('reaches across the corner of an L only as far as the inner corner lets it', () => {
    // A bar of no width, at 45 degrees through the inner corner (10, 10), is 20 sqrt 2 = 28.3 um long; an arm holds 40.
    const ell = regionOf([at(0, 0), at(40, 0), at(40, 10), at(10, 10), at(10, 40), at(0, 40)]);
    expect(fitRectangle(ell, 39, 9.5).fits).toBe(true);
    expect(fitRectangle(ell, 41, 9.5).fits).toBe(false);
    expect(fitRectangle(ell, 9.8, 14).fits).toBe(true);
    expect(fitRectangle(ell, 14, 14).fits).toBe(false);
  });

  it('agrees with the largest inscribed rectangle: a little less than it always fits, and where a bar is said to fit it lies inside', () => {
    fc.assert(
      fc.property(randomRegion, fc.double({ min: 0.5, max: 1.3, noNaN: true }), (region, grow) => {
        const largest = inscribedRectangle(region);
        if (!largest) return;
        const { fits, bar } = fitRectangle(region, largest.lengthUm * grow, largest.widthUm * grow);
        if (grow < 0.96) expect(fits).toBe(true);
        if (fits) expect(liesInside(region, bar)).toBe(true);
        // Larger in area than the largest that an exhaustive search leaves room for (5 %) cannot fit.
        if (grow * grow > 1.06) expect(fits).toBe(false);
      }),
      { numRuns: 80 },
    );
  });

  it('refuses a bar without size', () => {
    expect(() => fitRectangle(box(1, 1, 0), 0, 5)).toThrow(RangeError);
    expect(() => fitRectangle(box(1, 1, 0), Number.NaN, 5)).toThrow(RangeError);
  });
});
