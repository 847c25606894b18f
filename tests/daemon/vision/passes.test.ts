import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { labelComponents } from '../../../daemon/vision/components.ts';
import { depthMap } from '../../../daemon/vision/depth.ts';
import { linearTable } from '../../../daemon/vision/linearise.ts';
import { QuadraticFit, valueAt } from '../../../daemon/vision/quadratic.ts';
import { median } from '../../../daemon/vision/statistics.ts';
import { boxMean, dilate } from '../../../daemon/vision/window.ts';

const size = { width: 13, height: 9 };
const masks = fc.uint8Array({ minLength: 117, maxLength: 117, max: 1 });

describe('linear tables', () => {
  it('decode sRGB as IEC 61966-2-1 says', () => {
    const table = linearTable('srgb', 255);
    // Worked by hand from the standard's two branches: 10/255 lies on the straight part, 128/255 on the power part.
    expect(table[10]).toBeCloseTo(10 / 255 / 12.92, 7);
    expect(table[128]).toBeCloseTo(((128 / 255 + 0.055) / 1.055) ** 2.4, 6);
    expect(table[255]).toBeCloseTo(1, 6);
  });

  it('rise with the sample', () => {
    for (const transfer of ['linear', 'srgb'] as const) {
      const table = linearTable(transfer, 1023);
      expect(table.every((v, i) => i === 0 || v > (table[i - 1] as number))).toBe(true);
    }
  });
});

describe('quadratic surfaces', () => {
  it('are found again from their own points', () => {
    const coefficient = fc.double({ min: -2, max: 2, noNaN: true });
    fc.assert(fc.property(fc.tuple(coefficient, coefficient, coefficient, coefficient, coefficient, coefficient), (q) => {
      const fit = new QuadraticFit(1);
      for (let i = 0; i < 20; i++) for (let j = 0; j < 20; j++) fit.add(i / 9.5 - 1, j / 9.5 - 1, Float32Array.of(valueAt(q, i / 9.5 - 1, j / 9.5 - 1)), 0);
      const [found = q] = fit.solve();
      for (const [x, y] of [[0, 0], [0.7, -0.4], [-1, 1]] as const) expect(Math.abs(valueAt(found, x, y) - valueAt(q, x, y))).toBeLessThan(0.005);
    }));
  });
});

describe('median', () => {
  it('has as many values above it as below', () => {
    fc.assert(fc.property(fc.float32Array({ minLength: 1, maxLength: 40, noNaN: true, min: -1e6, max: 1e6 }), (values) => {
      const m = Math.fround(median(values));
      expect(values.filter((v) => v < m).length).toBeLessThanOrEqual(values.length / 2);
      expect(values.filter((v) => v > m).length).toBeLessThanOrEqual(values.length / 2);
    }));
  });
});

/** Connected parts by repeated spreading: slow, and nothing like the code under test. */
function parts(mask: Uint8Array): readonly number[] {
  const root = Array.from(mask, (m, i) => (m === 1 ? i : -1));
  for (let changed = true; changed; ) {
    changed = false;
    root.forEach((r, i) => {
      if (r < 0) return;
      root.forEach((s, j) => {
        const apart = Math.max(Math.abs((i % 13) - (j % 13)), Math.abs(Math.floor(i / 13) - Math.floor(j / 13)));
        if (s > r && apart <= 1) {
          root[j] = r;
          changed = true;
        }
      });
    });
  }
  return root;
}

describe('passes over masks', () => {
  it('label what touches, corners included, as spreading does', () => {
    fc.assert(fc.property(masks, (mask) => {
      const expected = parts(mask);
      const { labels, components } = labelComponents(mask, size.width, size.height);
      expect(new Set(expected.filter((r) => r >= 0)).size).toBe(components.length);
      expect(components.reduce((sum, c) => sum + c.count, 0)).toBe(mask.reduce((sum, m) => sum + m, 0));
      labels.forEach((l, i) => expect(l === labels[expected[i] as number] || l === 0).toBe(true));
    }), { numRuns: 40 });
  });

  it('measure depth as the chessboard distance to the next sample that is not of the region', () => {
    fc.assert(fc.property(masks, (mask) => {
      const labels = Int32Array.from(mask);
      const inside = Int32Array.from([...mask.keys()].filter((i) => mask[i] === 1));
      const depth = depthMap(labels, inside, size.width, size.height);
      for (const i of inside) {
        let nearest = Infinity;
        mask.forEach((m, j) => {
          if (m === 0) nearest = Math.min(nearest, Math.max(Math.abs((i % 13) - (j % 13)), Math.abs(Math.floor(i / 13) - Math.floor(j / 13))));
        });
        if (nearest < Infinity) expect(depth[i]).toBe(nearest);
      }
    }));
  });

  it('grow a mask by a square', () => {
    fc.assert(fc.property(masks, fc.integer({ min: 0, max: 3 }), (mask, reach) => {
      const grown = dilate(mask, size.width, size.height, reach);
      grown.forEach((g, i) => {
        const near = mask.some((m, j) => m === 1 && Math.max(Math.abs((i % 13) - (j % 13)), Math.abs(Math.floor(i / 13) - Math.floor(j / 13))) <= reach);
        expect(g === 1).toBe(near);
      });
    }));
  });

  it('keep the mean of an even plane', () => {
    expect([...boxMean(new Float32Array(117).fill(0.25), 13, 9)].every((v) => Math.abs(v - 0.25) < 1e-6)).toBe(true);
  });
});
