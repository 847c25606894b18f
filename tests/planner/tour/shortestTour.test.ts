import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { shortestTour } from '../../../planner/tour/shortestTour.ts';
import type { CostOf } from '../../../planner/tour/neighbours.ts';

/** Protects: routes are short (TSPLIB's proven optima, source in tests/reference/tsplib), whole, and the same each time. */

type Place = readonly [number, number];

function readInstance(name: string): readonly Place[] {
  const [, section = ''] = readFileSync(new URL(`../../reference/tsplib/${name}.tsp`, import.meta.url), 'utf8').split('NODE_COORD_SECTION');
  return [...section.matchAll(/^\s*\d+\s+(\S+)\s+(\S+)\s*$/gm)].map(([, x, y]) => [Number(x), Number(y)]);
}

const between = (places: readonly Place[], round = (distance: number) => distance): CostOf => (a, b) => {
  const [p, q] = [places[a], places[b]];
  return p && q ? round(Math.hypot(p[0] - q[0], p[1] - q[1])) : NaN;
};
const lengthOf = (order: readonly number[], costOf: CostOf): number => order.slice(1).reduce((sum, place, i) => sum + costOf(order[i] ?? NaN, place), 0);
const sorted = (order: readonly number[]): readonly number[] => [...order].sort((a, b) => a - b);

/** All orders of a few numbers. */
function ordersOf(items: readonly number[]): readonly (readonly number[])[] {
  if (items.length < 2) return [items];
  return items.flatMap((item) => ordersOf(items.filter((other) => other !== item)).map((rest) => [item, ...rest]));
}

const number = fc.double({ min: 0, max: 1000, noNaN: true });
const few = fc.array(fc.tuple(number, number), { minLength: 1, maxLength: 6 });

describe('closed tours', () => {
  it.each([
    ['berlin52', 7542],
    ['st70', 675],
    ['ch150', 6528],
  ])('%s is within 5 %% of the proven optimum of %d', (name, optimum) => {
    const places = readInstance(name);
    const costOf = between(places, Math.round);
    const tour = shortestTour(places.length, costOf, { closed: true });
    expect(sorted(tour)).toEqual(places.map((_, i) => i));
    const length = lengthOf(tour, costOf) + costOf(tour.at(-1) ?? NaN, tour[0] ?? NaN);
    expect(length).toBeGreaterThanOrEqual(optimum);
    expect(length).toBeLessThanOrEqual(1.05 * optimum);
    expect(shortestTour(places.length, costOf, { closed: true })).toEqual(tour);
  });
});

describe('open tours (every order of up to six places is tried)', () => {
  it('are the shortest, from anywhere and from a given start', () => {
    fc.assert(
      fc.property(few, fc.nat(), (places, pick) => {
        const costOf = between(places);
        const all = ordersOf(places.map((_, i) => i));
        const free = shortestTour(places.length, costOf);
        expect(sorted(free)).toEqual(places.map((_, i) => i));
        expect(lengthOf(free, costOf)).toBeLessThanOrEqual(Math.min(...all.map((order) => lengthOf(order, costOf))) + 1e-6);
        const start = pick % places.length;
        const bound = shortestTour(places.length, costOf, { start });
        expect(bound[0]).toBe(start);
        const from = all.filter(([first]) => first === start);
        expect(lengthOf(bound, costOf)).toBeLessThanOrEqual(1.05 * Math.min(...from.map((order) => lengthOf(order, costOf))) + 1e-6);
      }),
      { numRuns: 200 },
    );
  });

  it('visit each place once, whatever the places (law)', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(number, number), { minLength: 0, maxLength: 60 }), fc.boolean(), (places, closed) => {
        expect(sorted(shortestTour(places.length, between(places), { closed }))).toEqual(places.map((_, i) => i));
      }),
      { numRuns: 60 },
    );
  });
});
