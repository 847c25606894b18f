import { distanceUm } from '../units/index.ts';
import type { FrameOfReference, PointUm } from '../units/index.ts';
import { distanceToSegmentUm } from './measure.ts';
import type { Polygon } from './measure.ts';

/**
 * A closed polygon with fewer corners: every dropped corner lies within `toleranceUm` of the new edge that replaces it.
 * Douglas and Peucker, Cartographica 10 (1973) 112 (from memory), run on the two halves between two corners that lie far apart.
 * The kept corners are the given ones in their order. A polygon of up to three corners comes back as it is.
 */
export function simplify<F extends FrameOfReference>(polygon: Polygon<F>, toleranceUm: number): Polygon<F> {
  const [origin] = polygon;
  if (!origin || polygon.length <= 3) return polygon;
  const first = farthestFrom(polygon, origin);
  const turned = [...polygon.slice(first), ...polygon.slice(0, first)];
  const start = turned[0] ?? origin;
  const closed = [...turned, start];
  const second = farthestFrom(turned, start);
  const keep = new Uint8Array(closed.length);
  keep[0] = 1;
  keep[second] = 1;
  markKept(closed, keep, 0, second, toleranceUm);
  markKept(closed, keep, second, closed.length - 1, toleranceUm);
  return inOriginalOrder(turned, keep, polygon.length - first);
}

function farthestFrom<F extends FrameOfReference>(points: Polygon<F>, from: PointUm<F>): number {
  let best = 0;
  let bestUm = -1;
  points.forEach((p, i) => {
    const away = distanceUm(p, from);
    if (away > bestUm) [best, bestUm] = [i, away];
  });
  return best;
}

/** Works with its own stack, so that an outline of very many corners cannot overflow the call stack. */
function markKept<F extends FrameOfReference>(points: Polygon<F>, keep: Uint8Array, start: number, end: number, toleranceUm: number): void {
  const open: (readonly [number, number])[] = [[start, end]];
  for (let span = open.pop(); span; span = open.pop()) {
    const [from, to] = span;
    const a = points[from];
    const b = points[to];
    if (!a || !b) continue;
    let worst = -1;
    let worstUm = toleranceUm;
    for (let i = from + 1; i < to; i += 1) {
      const p = points[i];
      const away = p ? distanceToSegmentUm(p, a, b) : 0;
      if (away > worstUm) [worst, worstUm] = [i, away];
    }
    if (worst < 0) continue;
    keep[worst] = 1;
    open.push([from, worst], [worst, to]);
  }
}

function inOriginalOrder<F extends FrameOfReference>(turned: Polygon<F>, keep: Uint8Array, firstAt: number): Polygon<F> {
  const kept = (from: number, to: number) => turned.slice(from, to).filter((_, i) => keep[from + i] === 1);
  return [...kept(firstAt, turned.length), ...kept(0, firstAt)];
}
