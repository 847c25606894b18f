import type { FrameOfReference, PointUm } from '../units/index.ts';
import { turnUm2 } from './measure.ts';
import type { Polygon } from './measure.ts';

/**
 * Smallest convex polygon around the points, counter-clockwise on the stage, without corners on straight edges.
 * Andrew's monotone chain (Information Processing Letters 9, 1979; from memory).
 */
export function convexHull<F extends FrameOfReference>(points: Polygon<F>): Polygon<F> {
  const sorted = [...points].sort((a, b) => a.xUm - b.xUm || a.yUm - b.yUm);
  if (sorted.length < 3) return sorted;
  const lower = chain(sorted);
  const upper = chain(sorted.reverse());
  return [...lower.slice(0, -1), ...upper.slice(0, -1)];
}

function chain<F extends FrameOfReference>(sorted: Polygon<F>): PointUm<F>[] {
  const kept: PointUm<F>[] = [];
  for (const point of sorted) {
    while (kept.length >= 2) {
      const last = kept[kept.length - 1];
      const before = kept[kept.length - 2];
      if (last && before && turnUm2(before, last, point) > 0) break;
      kept.pop();
    }
    kept.push(point);
  }
  return kept;
}

/** Whether the corners of a simple polygon never turn against its sense of rotation. */
export function isConvex<F extends FrameOfReference>(polygon: Polygon<F>): boolean {
  const count = polygon.length;
  let left = false;
  let right = false;
  polygon.forEach((corner, i) => {
    const turn = turnUm2(polygon[(i + count - 1) % count] ?? corner, corner, polygon[(i + 1) % count] ?? corner);
    left ||= turn > 0;
    right ||= turn < 0;
  });
  return !(left && right);
}
