import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { inscribedCircle } from '../../../planner/geometry/inscribedCircle.ts';
import { distanceToEdgeUm } from '../../../planner/geometry/polygon.ts';
import type { StagePoint } from '../../../planner/units/index.ts';

const at = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });
const within = (radiusUm: number, trueUm: number) => {
  expect(radiusUm).toBeLessThanOrEqual(trueUm * (1 + 1e-9));
  expect(radiusUm).toBeGreaterThanOrEqual(trueUm * 0.99);
};
const turned = (p: StagePoint, angle: number): StagePoint =>
  at(p.xUm * Math.cos(angle) - p.yUm * Math.sin(angle) + 40_000, p.xUm * Math.sin(angle) + p.yUm * Math.cos(angle) - 7_000);
const side = fc.double({ min: 0.5, max: 400, noNaN: true });
const angle = fc.double({ min: 0, max: 6.3, noNaN: true });

describe('largest inscribed circle (closed forms)', () => {
  it('is half the short side of a rectangle at any angle', () => {
    fc.assert(
      fc.property(side, side, angle, (w, h, a) => {
        const corners = [at(0, 0), at(w, 0), at(w, h), at(0, h)].map((p) => turned(p, a));
        const circle = inscribedCircle(corners);
        within(circle.radiusUm, Math.min(w, h) / 2);
        expect(distanceToEdgeUm(corners, circle.centreUm)).toBeCloseTo(circle.radiusUm, 6);
      }),
      { numRuns: 60 },
    );
  });

  it('is 2 area/perimeter for any triangle', () => {
    fc.assert(
      fc.property(side, side, fc.double({ min: 0.1, max: 3, noNaN: true }), angle, (a, b, between, turn) => {
        const corners = [at(0, 0), at(a, 0), at(b * Math.cos(between), b * Math.sin(between))].map((p) => turned(p, turn));
        const area = (a * b * Math.sin(between)) / 2;
        const opposite = Math.sqrt(a * a + b * b - 2 * a * b * Math.cos(between));
        within(inscribedCircle(corners).radiusUm, (2 * area) / (a + b + opposite));
      }),
      { numRuns: 60 },
    );
  });

  it('finds the inner bend of an L shape: arms of width 1, circle through the inward corner', () => {
    // Centre (r, r), inward corner (1, 1): (1 - r) sqrt 2 = r gives r = sqrt 2/(1 + sqrt 2) = 2 - sqrt 2.
    const ell = [at(0, 0), at(4, 0), at(4, 1), at(1, 1), at(1, 4), at(0, 4)];
    within(inscribedCircle(ell).radiusUm, 2 - Math.SQRT2);
  });

  it('gives zero for a polygon without area', () => {
    expect(inscribedCircle([at(0, 0), at(1, 1), at(2, 2)]).radiusUm).toBe(0);
  });
});
