import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { errorAtUm, fitFocusSurface, zAtUm } from '../../../planner/focus/surface.ts';
import type { FocusPoint, FocusSurface, SurfaceOptions } from '../../../planner/focus/surface.ts';
import { fitPolynomial, fitThinPlate, modelZUm, spreadAt } from '../../../planner/focus/surfaceModels.ts';
import type { StagePoint } from '../../../planner/units/index.ts';
import { noiseGenerator } from '../frames/wavePicture.ts';
import { scipyFigures } from './scipyFigures.ts';

const at = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });
const meanX = scipyFigures.points.reduce((sum, [x]) => sum + x, 0) / scipyFigures.points.length;
const meanY = scipyFigures.points.reduce((sum, [, y]) => sum + y, 0) / scipyFigures.points.length;
const spotOf = (x: number, y: number) => ({ u: (x - meanX) / 4000, v: (y - meanY) / 4000 });
const spots = scipyFigures.points.map(([x, y]) => spotOf(x, y));
const zs = scipyFigures.points.map(([, , z]) => z);
const places = scipyFigures.places.map(([x, y]) => spotOf(x, y));

function surfaceOf(points: readonly FocusPoint[], options?: SurfaceOptions): FocusSurface {
  const result = fitFocusSurface(points, options);
  if (!result.ok) throw new Error(JSON.stringify(result.refusal));
  return result.surface;
}

/** Points on a grid over a 10 mm chip, with heights from a formula and even noise. */
function measured(side: number, z: (x: number, y: number) => number, noiseUm = 0, seed = 1): FocusPoint[] {
  const next = noiseGenerator(seed);
  return Array.from({ length: side * side }, (_, i) => {
    const x = 40_000 + (10_000 * (i % side)) / (side - 1);
    const y = 20_000 + (10_000 * Math.floor(i / side)) / (side - 1);
    return { atUm: at(x, y), zUm: z(x, y) + noiseUm * (2 * next() - 1), errorUm: Math.max(0.05, noiseUm / Math.sqrt(3)) };
  });
}
const tilted = (x: number, y: number) => 1500 + 0.003 * (x - 45_000) - 0.002 * (y - 25_000);
const bowed = (x: number, y: number) => tilted(x, y) - 8 * (((x - 45_000) / 5000) ** 2 + ((y - 25_000) / 5000) ** 2);
/** Middle and corners. */
const five = (z: (x: number, y: number) => number): FocusPoint[] =>
  ([[45, 25], [40, 20], [50, 20], [50, 30], [40, 30]] as const).map(([x, y]) => ({ atUm: at(x * 1000, y * 1000), zUm: z(x * 1000, y * 1000), errorUm: 0.1 }));

describe('the three surfaces against figures of scipy', () => {
  it('thin-plate spline: heights and leave-one-out errors', () => {
    const model = fitThinPlate(spots, zs);
    if (!model) throw new Error('no fit');
    places.forEach((place, i) => expect(modelZUm(model, place)).toBeCloseTo(scipyFigures.thinPlate.zs[i] ?? NaN, 6));
    model.leaveOneOutUm.forEach((e, i) => expect(e).toBeCloseTo(scipyFigures.thinPlate.leaveOneOut[i] ?? NaN, 6));
  });

  it.each(['plane', 'quadratic'] as const)('%s by least squares: heights, standard errors and leave-one-out errors', (kind) => {
    const model = fitPolynomial(kind, spots, zs);
    if (!model) throw new Error('no fit');
    const figures = scipyFigures[kind];
    places.forEach((place, i) => {
      expect(modelZUm(model, place)).toBeCloseTo(figures.zs[i] ?? NaN, 6);
      expect(spreadAt(model, place) * model.scatterUm).toBeCloseTo(figures.standardErrors[i] ?? NaN, 6);
    });
    model.leaveOneOutUm.forEach((e, i) => expect(e).toBeCloseTo(figures.leaveOneOut[i] ?? NaN, 6));
  });

  it('the thin-plate spline meets every point and its spread is zero there', () => {
    const model = fitThinPlate(spots, zs);
    if (!model) throw new Error('no fit');
    spots.forEach((spot, i) => {
      expect(modelZUm(model, spot)).toBeCloseTo(zs[i] ?? NaN, 6);
      expect(spreadAt(model, spot)).toBeLessThan(1e-5);
    });
    expect(spreadAt(model, { u: 0, v: 0.4 })).toBeGreaterThan(1e-3);
  });
});

describe('choosing the surface', () => {
  it('takes a plane for three to six points and meets a tilted chip exactly', () => {
    fc.assert(
      fc.property(fc.integer({ min: 3, max: 6 }), fc.double({ min: -0.01, max: 0.01, noNaN: true }), fc.double({ min: -0.01, max: 0.01, noNaN: true }), (count, a, b) => {
        const z = (x: number, y: number) => 1500 + a * (x - 45_000) + b * (y - 25_000);
        const surface = surfaceOf([...five(z).slice(1), ...five(z).slice(0, 1), { atUm: at(43_000, 28_000), zUm: z(43_000, 28_000), errorUm: 0.1 }].slice(0, count));
        expect(surface.kind).toBe('plane');
        expect(surface.badPoints).toEqual([]);
        expect(zAtUm(surface, at(47_000, 21_000))).toBeCloseTo(z(47_000, 21_000), 6);
      }),
    );
  });

  it('takes a plane for a flat chip, a quadratic for a bowed one, a thin plate for a wavy one', () => {
    const wavy = (x: number, y: number) => tilted(x, y) + 6 * Math.sin(x / 1800) * Math.cos(y / 2100);
    expect(surfaceOf(measured(4, tilted, 0.3)).kind).toBe('plane');
    expect(surfaceOf(measured(4, bowed, 0.3)).kind).toBe('quadratic');
    expect(surfaceOf(measured(6, wavy, 0.1)).kind).toBe('thinPlate');
  });

  it('tells residuals of every point', () => {
    const points = five(tilted).map((p, i) => (i === 0 ? { ...p, zUm: p.zUm + 5 } : p));
    // Four corners and the middle: a middle that is 5 um up lifts the plane by 1 um, so 4 um are left there and -1 um at the corners.
    surfaceOf(points).residualsUm.forEach((r, i) => expect(r).toBeCloseTo(i === 0 ? 4 : -1, 9));
  });
});

describe('bad points', () => {
  it('finds a single bad one of nine, whichever it is', () => {
    const points = measured(3, bowed, 0.1);
    points.forEach((_, bad) => {
      expect(surfaceOf(points.map((p, i) => (i === bad ? { ...p, zUm: p.zUm - 30 } : p))).badPoints).toEqual([bad]);
    });
  });

  it('finds a bad one of five that lie on no common lines', () => {
    const circle = [0, 1, 2, 3, 4].map((i) => at(45_000 + 5000 * Math.cos(1.2566 * i), 25_000 + 5000 * Math.sin(1.2566 * i)));
    const points = circle.map((atUm) => ({ atUm, zUm: tilted(atUm.xUm, atUm.yUm), errorUm: 0.1 }));
    points.forEach((good, bad) => {
      const surface = surfaceOf(points.map((p, i) => (i === bad ? { ...p, zUm: p.zUm - 60 } : p)));
      expect(surface.badPoints).toEqual([bad]);
      expect(zAtUm(surface, good.atUm)).toBeCloseTo(good.zUm, 6);
    });
  });

  it('finds a bad middle of five, and names both suspects where opposite corners cannot be told apart', () => {
    const spoilt = (bad: number) => surfaceOf(five(tilted).map((p, i) => (i === bad ? { ...p, zUm: p.zUm - 60 } : p)));
    expect(spoilt(0)).toMatchObject({ badPoints: [0], suspectPoints: [] });
    // Without one corner of a diagonal, three points on the other diagonal and one more always lie in a plane, whichever corner it is.
    expect(spoilt(1)).toMatchObject({ badPoints: [], suspectPoints: [1, 3] });
    expect(spoilt(4)).toMatchObject({ badPoints: [], suspectPoints: [2, 4] });
    expect(errorAtUm(spoilt(4), at(45_000, 25_000))).toBeGreaterThan(5);
  });

  it('does not take a bow of 10 um for a bad point', () => {
    const bowedFive = five(tilted).map((p, i) => (i === 0 ? { ...p, zUm: p.zUm + 10 } : p));
    expect(surfaceOf(bowedFive).badPoints).toEqual([]);
  });

  it('leaves a point alone that does no harm', () => {
    const points = measured(4, tilted, 0).map((p, i) => (i === 5 ? { ...p, zUm: p.zUm + 1.5 } : p));
    expect(surfaceOf(points).badPoints).toEqual([5]);
    expect(surfaceOf(points, { depthOfFieldUm: 6 }).badPoints).toEqual([]);
  });

  it('stays within 1 um of a bowed, tilted chip in spite of one bad point, in 40 of 40 runs', () => {
    for (let seed = 1; seed <= 40; seed += 1) {
      const points = measured(4, bowed, 0.3, seed).map((p, i) => (i === seed % 16 ? { ...p, zUm: p.zUm + (seed % 2 === 0 ? 25 : -40) } : p));
      const surface = surfaceOf(points);
      for (const [x, y] of [[42_000, 23_000], [45_000, 25_000], [48_500, 29_000], [41_000, 29_000]] as const) {
        expect(Math.abs(zAtUm(surface, at(x, y)) - bowed(x, y))).toBeLessThan(1);
      }
    }
  });
});

describe('predicted error', () => {
  it('grows outside the points and holds what the plane cannot follow', () => {
    const surface = surfaceOf(measured(3, tilted, 0.3));
    expect(errorAtUm(surface, at(60_000, 25_000))).toBeGreaterThan(2 * errorAtUm(surface, at(45_000, 25_000)));
    // A bow of 8 um between middle and corners: the plane misses the middle by 0.8 of it.
    const bent = surfaceOf(five((x, y) => (bowed(x, y) + tilted(x, y)) / 2));
    expect(errorAtUm(bent, at(45_000, 25_000))).toBeGreaterThan(2);
  });

  it('is right on the whole: true errors over predicted ones have a root mean square of about 1', () => {
    let squares = 0;
    let count = 0;
    for (let seed = 100; seed < 200; seed += 1) {
      const surface = surfaceOf(measured(4, bowed, 0.5, seed));
      for (const [x, y] of [[42_000, 23_000], [46_000, 26_000], [49_500, 29_500]] as const) {
        squares += ((zAtUm(surface, at(x, y)) - bowed(x, y)) / errorAtUm(surface, at(x, y))) ** 2;
        count += 1;
      }
    }
    expect(Math.sqrt(squares / count)).toBeGreaterThan(0.5);
    expect(Math.sqrt(squares / count)).toBeLessThan(1.5);
  });
});

describe('refusals', () => {
  it('wants three points, not on one line', () => {
    expect(fitFocusSurface(five(tilted).slice(0, 2))).toEqual({ ok: false, refusal: { code: 'tooFewFocusPoints', points: 2, least: 3 } });
    const line = [0, 1, 2, 3].map((i) => ({ atUm: at(1000 * i, 2000 * i), zUm: i, errorUm: 0.1 }));
    expect(fitFocusSurface(line)).toMatchObject({ ok: false, refusal: { code: 'focusPointsOnOneLine' } });
    const same = [0, 1, 2].map(() => ({ atUm: at(5, 5), zUm: 1, errorUm: 0.1 }));
    expect(fitFocusSurface(same).ok).toBe(false);
  });
});
