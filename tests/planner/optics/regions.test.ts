import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Ring, SampledField } from '../../../planner/optics/index.ts';
import { regionAbove } from '../../../planner/optics/index.ts';

/** Shoelace formula (closed form of a polygon's area). */
function area(rings: readonly Ring[]): number {
  return rings.reduce((sum, ring) => {
    let twice = 0;
    for (let i = 0; i < ring.length; i += 2) {
      const next = (i + 2) % ring.length;
      twice += (ring[i] as number) * (ring[next + 1] as number) - (ring[next] as number) * (ring[i + 1] as number);
    }
    return sum + Math.abs(twice) / 2;
  }, 0);
}

const field = (columns: number, rows: number, f: (x: number, y: number) => number): SampledField => ({
  columns,
  rows,
  values: Array.from({ length: columns * rows }, (_, i) => f(i % columns, Math.floor(i / columns))),
});

describe('the region above a level', () => {
  test('of a slope is cut where the slope meets the level', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.01, max: 8.99, noNaN: true }), (level) => {
        expect(area(regionAbove(field(10, 6, (x) => x), level))).toBeCloseTo((9 - level) * 5, 9);
      }),
    );
  });
  test('is everything below the least value, in one ring a row, and nothing above the greatest', () => {
    const hill = field(12, 9, (x, y) => Math.sin(x / 3) * Math.cos(y / 4));
    expect(regionAbove(hill, -2)).toHaveLength(8);
    expect(area(regionAbove(hill, -2))).toBe(11 * 8);
    expect(regionAbove(hill, 2)).toEqual([]);
  });
  test('and the region below fill the picture together, but for the saddles', () => {
    const wave = (x: number, y: number): number => Math.sin(x / 6 + y / 9);
    const above = area(regionAbove(field(40, 30, wave), 0.2));
    const below = area(regionAbove(field(40, 30, (x, y) => -wave(x, y)), -0.2));
    expect(above + below).toBeCloseTo(39 * 29, 6);
  });
  test('a round hill has the area of its circle within 1 %', () => {
    const hill = field(101, 101, (x, y) => -Math.hypot(x - 50, y - 50));
    expect(Math.abs(area(regionAbove(hill, -30)) / (Math.PI * 900) - 1)).toBeLessThan(0.01);
  });
});
