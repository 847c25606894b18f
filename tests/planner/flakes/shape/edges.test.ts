import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { edgesOfFlake } from '../../../../planner/flakes/shape/edges.ts';
import { familyOf } from '../../../../planner/flakes/shape/family.ts';
import type { StagePoint } from '../../../../planner/units/index.ts';
import { at, box, regular, terrace, turn } from './flakes.ts';

/** Size of a resolution element in these tests, um: 10x/0.30 has 1.12. */
const ELEMENT = 1.1;
const apart = (a: number, b: number, period: number): number => {
  const d = (((a - b) % period) + period) % period;
  return Math.min(d, period - d);
};
const degrees = fc.double({ min: 0, max: 360, noNaN: true });

/** Points of a Gaussian by Box and Muller, from a seeded generator (Lehmer's, modulus 2^31 - 1, multiplier 48271; from memory). */
function gaussian(seed: number): () => number {
  let state = seed;
  const uniform = (): number => (state = (state * 48271) % 2147483647) / 2147483647;
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}

describe('straight edges', () => {
  it('are the four sides of a rectangle, with their directions, at any angle', () => {
    fc.assert(
      fc.property(degrees, (a) => {
        const { edges } = edgesOfFlake([terrace(turn(box(0, 0, 40, 15), a, 3000, -800), 1, 15)], ELEMENT);
        expect(edges).toHaveLength(4);
        for (const [i, edge] of edges.entries()) {
          expect(apart(edge.angleDeg, i < 2 ? a : a + 90, 180)).toBeLessThan(1e-6);
          // Half an element is left out at both ends, where blur rounds the corner.
          expect(edge.lengthUm).toBeGreaterThan((i < 2 ? 40 : 15) - 3 * ELEMENT);
          expect(edge.lengthUm).toBeLessThan(i < 2 ? 40 : 15);
          expect(edge.angleDeg).toBeGreaterThanOrEqual(0);
          expect(edge.angleDeg).toBeLessThan(180);
        }
      }),
      { numRuns: 40 },
    );
  });

  it('on a circle are only what no picture tells from an arc: a chord of bow 1/4 element is at most sqrt(8 R bow) long; and no family', () => {
    for (const radiusUm of [12, 40]) {
      const { edges, family } = edgesOfFlake([terrace(regular(180, radiusUm), 1, 2 * radiusUm)], ELEMENT);
      for (const edge of edges) expect(edge.lengthUm).toBeLessThan(Math.sqrt(8 * radiusUm * (ELEMENT / 4)));
      expect(family).toBeUndefined();
    }
  });

  it('have honest errors: with places 2 elements apart that are each off by s, directions scatter as the standard error says', () => {
    const noise = gaussian(20240611);
    const strayUm = 0.12;
    const pulls: number[] = [];
    for (let run = 0; run < 200; run++) {
      const steps = Math.round(30 / (2 * ELEMENT));
      const side = (y: number): readonly StagePoint[] => Array.from({ length: steps + 1 }, (_, i) => at((30 * i) / steps, y + strayUm * noise()));
      const { edges } = edgesOfFlake([terrace([...side(0), ...[...side(20)].reverse()], 1, 20)], ELEMENT);
      for (const e of edges) if (e.lengthUm > 25 && apart(e.angleDeg, 0, 180) < 45) pulls.push((((e.angleDeg + 90) % 180) - 90) / e.angleErrorDeg);
    }
    const rms = Math.sqrt(pulls.reduce((sum, p) => sum + p * p, 0) / pulls.length);
    expect(pulls.length).toBeGreaterThan(150);
    expect(rms).toBeGreaterThan(0.7);
    expect(rms).toBeLessThan(1.4);
  });

  it('come longest first, and the same for the same flake', () => {
    const flake = [terrace(turn(box(0, 0, 40, 15), 17), 1, 15), terrace(turn(box(40, 0, 52, 15), 17), 2, 12)];
    const { edges } = edgesOfFlake(flake, ELEMENT);
    expect(edges.map((e) => e.lengthUm)).toEqual([...edges.map((e) => e.lengthUm)].sort((a, b) => b - a));
    expect(edgesOfFlake(flake, ELEMENT).edges).toEqual(edges);
  });
});

describe('family of directions', () => {
  it('of a regular hexagon is that of its sides, all three directions in it, and turns with it (zigzag edges lie 60 degrees apart)', () => {
    fc.assert(
      fc.property(degrees, (a) => {
        const { edges, edgeFamily } = withFamily(regular(6, 15, a));
        // A side of a hexagon with a corner at 0 degrees runs along 120 degrees: 0 modulo 30.
        expect(apart(edgeFamily?.angleDeg ?? Number.NaN, a, 30)).toBeLessThan(0.01);
        expect(edgeFamily).toMatchObject({ directions: 3, members: 3 });
        expect(edgeFamily?.lengthShare).toBeCloseTo(1, 9);
        expect(edges.every((e) => e.inFamily)).toBe(true);
        expect(edgeFamily?.angleDeg).toBeGreaterThanOrEqual(0);
        expect(edgeFamily?.angleDeg).toBeLessThan(30);
      }),
      { numRuns: 40 },
    );
  });

  it('takes zigzag and armchair edges together (30 degrees apart) and leaves a torn edge out', () => {
    const directions = [7, 37, 97, 157, 20].map((angleDeg) => ({ angleDeg, angleErrorDeg: 0.4, lengthUm: 12 }));
    const found = familyOf(directions);
    expect(found?.family.angleDeg).toBeCloseTo(7, 6);
    expect(found?.family).toMatchObject({ directions: 5, members: 4 });
    expect(found?.members).toEqual(new Set([0, 1, 2, 3]));
    expect(found?.family.lengthShare).toBeCloseTo(0.8, 9);
  });

  it('is not told from two parallel sides, nor from directions that agree no better than by accident', () => {
    expect(familyOf([10, 10.3].map((angleDeg) => ({ angleDeg, angleErrorDeg: 0.3, lengthUm: 20 })))).toBeUndefined();
    const scattered = [3, 11, 20, 31.5, 46, 57, 68, 100].map((angleDeg) => ({ angleDeg, angleErrorDeg: 0.3, lengthUm: 10 }));
    expect(familyOf(scattered)).toBeUndefined();
  });

  it('weighs by error: the circular mean of 29.6 and 0.8 degrees (through 30) with weights 4 to 1 is 29.84 degrees', () => {
    // (4 * -0.4 + 1 * 0.8)/5 = -0.16, which the circular mean follows for small differences.
    const found = familyOf([{ angleDeg: 29.6, angleErrorDeg: 0.4, lengthUm: 20 }, { angleDeg: 60.8, angleErrorDeg: 0.8, lengthUm: 20 }]);
    expect(found?.family.angleDeg).toBeCloseTo(29.84, 2);
    expect(found?.family.angleErrorDeg).toBeGreaterThanOrEqual(1 / Math.sqrt(1 / 0.4 ** 2 + 1 / 0.8 ** 2));
  });

  it('gives the chance of three directions out of three: 3 p squared with p = 3/30', () => {
    const found = familyOf([5, 65, 125].map((angleDeg) => ({ angleDeg, angleErrorDeg: 0.3, lengthUm: 20 })));
    expect(found?.family.chance).toBeCloseTo(0.03, 9);
  });
});

function withFamily(outline: readonly StagePoint[]) {
  const { edges, family } = edgesOfFlake([terrace(outline, 1, 20)], ELEMENT);
  return { edges, edgeFamily: family };
}
