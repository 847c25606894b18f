import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { inscribedInMask } from '../../../planner/flakes/inscribed.ts';
import { fillPolygon, gridOver } from '../../../planner/flakes/raster.ts';
import { traceContours } from '../../../planner/flakes/trace.ts';

describe('traceContours', () => {
  it('gives a disc its area and length to a hundredth', () => {
    const field = Float32Array.from({ length: 64 * 64 }, (_, i) => Math.max(0, Math.min(1, 20.3 - Math.hypot((i % 64) - 31.2, Math.floor(i / 64) - 30.7) + 0.5)));
    const [disc, ...others] = traceContours(field, 64, 64);
    expect(others).toEqual([]);
    expect((disc?.area ?? 0) / (Math.PI * 20.3 ** 2)).toBeCloseTo(1, 2);
    const { cols = [], rows = [] } = disc ?? {};
    const length = cols.reduce((sum, c, i) => sum + Math.hypot(c - (cols.at(i - 1) ?? 0), (rows[i] ?? 0) - (rows.at(i - 1) ?? 0)), 0);
    expect(length / (2 * Math.PI * 20.3)).toBeCloseTo(1, 1);
  });

  it('gives whole rectangles their corners, up to the edge of the grid', () => {
    fc.assert(fc.property(fc.integer({ min: 0, max: 8 }), fc.integer({ min: 0, max: 6 }), fc.integer({ min: 2, max: 8 }), fc.integer({ min: 2, max: 6 }), (col, row, wide, high) => {
      const field = new Float32Array(16 * 12);
      for (let r = row; r < row + high; r++) field.fill(1, r * 16 + col, r * 16 + col + wide);
      const [box] = traceContours(field, 16, 12);
      expect(Math.min(...(box?.cols ?? []))).toBeCloseTo(col, 9);
      expect(Math.max(...(box?.cols ?? []))).toBeCloseTo(col + wide, 9);
      expect(Math.min(...(box?.rows ?? []))).toBeCloseTo(row, 9);
      // Each of the four corners is cut off by half a sample along both sides: an eighth of a square sample.
      expect(box?.area).toBeCloseTo(wide * high - 0.5, 9);
    }));
  });

  it('draws one outer line for every part that hangs together by its sides', () => {
    fc.assert(fc.property(fc.uint8Array({ minLength: 100, maxLength: 100, max: 1 }), (mask) => {
      const root = Array.from(mask, (m, i) => (m === 1 ? i : -1));
      for (let changed = true; changed; ) {
        changed = false;
        root.forEach((r, i) => {
          for (const j of [i % 10 > 0 ? i - 1 : i, i % 10 < 9 ? i + 1 : i, i - 10, i + 10]) {
            if (r < 0 || (root[j] ?? -1) < 0 || (root[j] ?? 0) <= (root[i] ?? 0)) continue;
            root[j] = root[i] ?? 0;
            changed = true;
          }
        });
      }
      const outer = traceContours(Float32Array.from(mask), 10, 10).filter((c) => c.area > 0);
      expect(outer).toHaveLength(new Set(root.filter((r) => r >= 0)).size);
    }));
  });
});

describe('inscribedInMask', () => {
  it('agrees with trying every centre against every outer sample', () => {
    fc.assert(fc.property(fc.uint8Array({ minLength: 88, maxLength: 88, max: 4 }), (values) => {
      const mask = values.map((v) => (v > 0 ? 1 : 0));
      let best = -1;
      for (let i = 0; i < 88; i++) {
        if (mask[i] === 0) continue;
        let nearest = Infinity;
        for (let r = -1; r <= 8; r++) {
          for (let c = -1; c <= 11; c++) {
            const outside = r < 0 || c < 0 || r === 8 || c === 11 || mask[r * 11 + c] === 0;
            if (outside) nearest = Math.min(nearest, Math.hypot(c - (i % 11), r - Math.floor(i / 11)));
          }
        }
        best = Math.max(best, nearest - 0.5);
      }
      if (best > 0) expect(inscribedInMask(mask, 11, 8).radiusPx).toBeCloseTo(best, 9);
    }));
  });

  it('finds the incircle of a triangle to half a sample', () => {
    // Right triangle of legs 60 and 80: the incircle's radius is (60 + 80 - 100) / 2 = 20.
    const grid = gridOver({ xMinUm: 0, xMaxUm: 80, yMinUm: 0, yMaxUm: 60 }, 0.5, 1000);
    const mask = new Uint8Array(grid.width * grid.height);
    fillPolygon(grid, [{ xUm: 0, yUm: 0 }, { xUm: 80, yUm: 0 }, { xUm: 0, yUm: 60 }], mask, 1);
    expect(Math.abs(inscribedInMask(mask, grid.width, grid.height).radiusPx * 0.5 - 20)).toBeLessThan(0.5);
  });
});

describe('fillPolygon', () => {
  it('fills about the area of the polygon', () => {
    fc.assert(fc.property(fc.double({ min: 5, max: 40, noNaN: true }), fc.integer({ min: 3, max: 12 }), fc.double({ min: 0, max: 3, noNaN: true }), (radius, corners, turn) => {
      const polygon = Array.from({ length: corners }, (_, i) => ({ xUm: 50 + radius * Math.cos(turn + (2 * Math.PI * i) / corners), yUm: 50 + radius * Math.sin(turn + (2 * Math.PI * i) / corners) }));
      const grid = gridOver({ xMinUm: 0, xMaxUm: 100, yMinUm: 0, yMaxUm: 100 }, 0.5, 1000);
      const mask = new Uint8Array(grid.width * grid.height);
      fillPolygon(grid, polygon, mask, 1);
      const area = 0.5 * corners * radius ** 2 * Math.sin((2 * Math.PI) / corners);
      expect(Math.abs(mask.reduce((sum, m) => sum + m, 0) * 0.25 - area)).toBeLessThan(4 * radius);
    }), { numRuns: 50 });
  });
});
