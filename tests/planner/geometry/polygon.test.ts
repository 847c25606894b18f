import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  areaUm2,
  boundingBox,
  centroid,
  containsPoint,
  convexHull,
  distanceToEdgeUm,
  findSelfCrossing,
  isConvex,
  perimeterUm,
  polygonsIntersect,
  signedAreaUm2,
  simplify,
} from '../../../planner/geometry/polygon.ts';
import type { StagePoint } from '../../../planner/units/index.ts';

const at = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });
const shape = (...numbers: number[]): StagePoint[] =>
  Array.from({ length: numbers.length / 2 }, (_, i) => at(numbers[2 * i] ?? NaN, numbers[2 * i + 1] ?? NaN));
const rectangle = (x: number, y: number, w: number, h: number) => shape(x, y, x + w, y, x + w, y + h, x, y + h);
const ell = shape(0, 0, 4, 0, 4, 1, 1, 1, 1, 3, 0, 3);
const points = fc.array(fc.record({ xUm: fc.integer({ min: -500, max: 500 }), yUm: fc.integer({ min: -500, max: 500 }) }), { minLength: 3, maxLength: 40 });

describe('area, centroid, perimeter (closed forms)', () => {
  it('measures an L shape cut into two rectangles', () => {
    // 4 x 1 with its middle at (2, 0.5) and 1 x 2 with its middle at (0.5, 2).
    expect(areaUm2(ell)).toBe(6);
    expect(centroid(ell).xUm).toBeCloseTo((4 * 2 + 2 * 0.5) / 6, 12);
    expect(centroid(ell).yUm).toBeCloseTo((4 * 0.5 + 2 * 2) / 6, 12);
    expect(perimeterUm(ell)).toBe(14);
    expect(boundingBox(ell)).toEqual({ xMinUm: 0, xMaxUm: 4, yMinUm: 0, yMaxUm: 3 });
  });

  it('gives the sense of rotation by its sign', () => {
    expect(signedAreaUm2(ell)).toBe(6);
    expect(signedAreaUm2([...ell].reverse())).toBe(-6);
  });

  it('keeps its digits far from the origin of the stage', () => {
    const far = rectangle(123_456.7, -98_765.4, 0.5, 0.25);
    expect(areaUm2(far)).toBeCloseTo(0.125, 9);
    expect(centroid(far).xUm).toBeCloseTo(123_456.95, 6);
  });

  it('measures a regular polygon of 12 corners by n r^2 sin(2 pi/n)/2 and 2 n r sin(pi/n)', () => {
    const twelve = Array.from({ length: 12 }, (_, i) => at(7 * Math.cos((i * Math.PI) / 6), 7 * Math.sin((i * Math.PI) / 6)));
    expect(areaUm2(twelve)).toBeCloseTo((12 * 49 * Math.sin(Math.PI / 6)) / 2, 9);
    expect(perimeterUm(twelve)).toBeCloseTo(24 * 7 * Math.sin(Math.PI / 12), 9);
  });

  it('refuses what has no corner', () => {
    expect(() => centroid([])).toThrow(RangeError);
    expect(() => boundingBox([])).toThrow(RangeError);
    expect(areaUm2([])).toBe(0);
  });
});

describe('inside and distance', () => {
  it('knows the notch of an L shape', () => {
    expect(containsPoint(ell, at(0.5, 2.5))).toBe(true);
    expect(containsPoint(ell, at(2, 2))).toBe(false);
    expect(containsPoint(ell, at(3.9, 0.1))).toBe(true);
    expect(distanceToEdgeUm(ell, at(2, 2))).toBe(1);
    expect(distanceToEdgeUm(ell, at(0.5, 0.6))).toBe(0.5);
  });
});

describe('self-crossing', () => {
  it('names the two edges of a bow tie', () => {
    expect(findSelfCrossing(shape(0, 0, 2, 2, 2, 0, 0, 2))).toEqual({ edgeA: 0, edgeB: 2 });
  });

  it('sees a corner that touches another edge, and an edge that folds back', () => {
    expect(findSelfCrossing(shape(0, 0, 4, 0, 4, 4, 2, 0, 0, 4))).toBeDefined();
    expect(findSelfCrossing(shape(0, 0, 4, 0, 2, 0, 2, 3))).toBeDefined();
  });

  it('lets simple outlines pass, a repeated corner included', () => {
    expect(findSelfCrossing(ell)).toBeUndefined();
    expect(findSelfCrossing(shape(0, 0, 4, 0, 4, 0, 4, 4, 0, 4))).toBeUndefined();
  });

  it('never finds one in a convex hull', () => {
    fc.assert(fc.property(points, (some) => findSelfCrossing(convexHull(some)) === undefined || areaUm2(convexHull(some)) === 0));
  });
});

describe('convex hull', () => {
  it('holds every point, is convex and counter-clockwise, and has only given points as corners', () => {
    fc.assert(
      fc.property(points, (some) => {
        const hull = convexHull(some);
        fc.pre(areaUm2(hull) > 0);
        expect(isConvex(hull)).toBe(true);
        expect(signedAreaUm2(hull)).toBeGreaterThan(0);
        for (const p of some) expect(containsPoint(hull, p) || distanceToEdgeUm(hull, p) < 1e-9).toBe(true);
        for (const p of hull) expect(some).toContain(p);
      }),
    );
  });

  it('tells a convex outline from one with a notch', () => {
    expect(isConvex(rectangle(0, 0, 3, 2))).toBe(true);
    expect(isConvex(ell)).toBe(false);
  });
});

describe('simplify', () => {
  it('drops corners on straight edges and keeps the true ones in order', () => {
    const dotted = shape(0, 0, 1, 0, 2, 0.01, 4, 0, 4, 2, 4, 3, 2, 3, 0, 3);
    expect(simplify(dotted, 0.05)).toEqual(rectangle(0, 0, 4, 3));
  });

  it('never leaves a given corner farther off than the tolerance', () => {
    fc.assert(
      fc.property(points, fc.double({ min: 0.1, max: 200, noNaN: true }), (some, toleranceUm) => {
        const simple = simplify(some, toleranceUm);
        fc.pre(simple.length >= 2);
        for (const p of some) expect(distanceToEdgeUm(simple, p)).toBeLessThanOrEqual(toleranceUm + 1e-9);
      }),
    );
  });
});

describe('polygons that meet', () => {
  it('sees crossing, holding and touching, and parts what lies in a notch', () => {
    expect(polygonsIntersect(ell, rectangle(3, -1, 0.5, 5))).toBe(true);
    expect(polygonsIntersect(rectangle(-1, -1, 9, 9), ell)).toBe(true);
    expect(polygonsIntersect(ell, rectangle(0.2, 0.2, 0.1, 0.1))).toBe(true);
    expect(polygonsIntersect(ell, rectangle(4, 0, 1, 1))).toBe(true);
    expect(polygonsIntersect(ell, rectangle(2, 1.5, 3, 3))).toBe(false);
  });
});
