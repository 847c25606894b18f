import type { FrameOfReference, PointUm } from '../units/index.ts';
import { boundingBox, containsPoint, edgesOf, turnUm2 } from './measure.ts';
import type { Edge, Polygon } from './measure.ts';

/** Two edges that meet where they should not; each is named by the index of the corner it starts from. */
export interface EdgeCrossing {
  readonly edgeA: number;
  readonly edgeB: number;
}

function boxesTouch<F extends FrameOfReference>(a: Edge<F>, b: Edge<F>): boolean {
  return (
    Math.min(a.from.xUm, a.to.xUm) <= Math.max(b.from.xUm, b.to.xUm) &&
    Math.min(b.from.xUm, b.to.xUm) <= Math.max(a.from.xUm, a.to.xUm) &&
    Math.min(a.from.yUm, a.to.yUm) <= Math.max(b.from.yUm, b.to.yUm) &&
    Math.min(b.from.yUm, b.to.yUm) <= Math.max(a.from.yUm, a.to.yUm)
  );
}

/** Whether two straight edges have a point in common; touching counts. */
export function edgesMeet<F extends FrameOfReference>(a: Edge<F>, b: Edge<F>): boolean {
  if (!boxesTouch(a, b)) return false;
  const apart = (p: number, q: number) => (p > 0 && q > 0) || (p < 0 && q < 0);
  return (
    !apart(turnUm2(a.from, a.to, b.from), turnUm2(a.from, a.to, b.to)) &&
    !apart(turnUm2(b.from, b.to, a.from), turnUm2(b.from, b.to, a.to))
  );
}

/** Two edges that share a corner fold back on each other when they run in opposite directions on one line. */
function foldsBack<F extends FrameOfReference>(first: Edge<F>, next: Edge<F>): boolean {
  const along =
    (first.to.xUm - first.from.xUm) * (next.to.xUm - next.from.xUm) + (first.to.yUm - first.from.yUm) * (next.to.yUm - next.from.yUm);
  return along < 0 && turnUm2(first.from, first.to, next.to) === 0;
}

/** The first pair of edges of a polygon that cross, touch or fold back on each other; `undefined` for a simple polygon. */
export function findSelfCrossing<F extends FrameOfReference>(polygon: Polygon<F>): EdgeCrossing | undefined {
  const edges = edgesOf(polygon);
  for (const [i, a] of edges.entries()) {
    for (let j = i + 1; j < edges.length; j += 1) {
      const b = edges[j];
      if (!b) continue;
      const follows = j === i + 1;
      const leads = i === 0 && j === edges.length - 1;
      const crosses = follows || leads ? (follows && foldsBack(a, b)) || (leads && foldsBack(b, a)) : edgesMeet(a, b);
      if (crosses) return { edgeA: a.index, edgeB: b.index };
    }
  }
  return undefined;
}

/** Whether two polygons have a point in common: crossing or touching edges, or one inside the other. */
export function polygonsIntersect<F extends FrameOfReference>(a: Polygon<F>, b: Polygon<F>): boolean {
  if (a.length === 0 || b.length === 0) return false;
  const boxA = boundingBox(a);
  const boxB = boundingBox(b);
  if (boxA.xMinUm > boxB.xMaxUm || boxB.xMinUm > boxA.xMaxUm || boxA.yMinUm > boxB.yMaxUm || boxB.yMinUm > boxA.yMaxUm) return false;
  // Every corner is asked: of nearly equal polygons one corner may lie outside by rounding, and their edges run along each other without meeting.
  if (b.some((p) => containsPoint(a, p)) || a.some((p) => containsPoint(b, p))) return true;
  const edgesB = edgesOf(b);
  return edgesOf(a).some((edgeA) => edgesB.some((edgeB) => edgesMeet(edgeA, edgeB)));
}

/** Where two straight edges cross, as shares of their lengths; `undefined` when they are parallel or do not reach each other. */
export function crossingShares<F extends FrameOfReference>(a: Edge<F>, b: Edge<F>): readonly [number, number] | undefined {
  const ax = a.to.xUm - a.from.xUm;
  const ay = a.to.yUm - a.from.yUm;
  const bx = b.to.xUm - b.from.xUm;
  const by = b.to.yUm - b.from.yUm;
  const determinant = ax * by - ay * bx;
  if (determinant === 0) return undefined;
  const dx = b.from.xUm - a.from.xUm;
  const dy = b.from.yUm - a.from.yUm;
  const onA = (dx * by - dy * bx) / determinant;
  const onB = (dx * ay - dy * ax) / determinant;
  return onA >= 0 && onA <= 1 && onB >= 0 && onB <= 1 ? [onA, onB] : undefined;
}

/** The point at a share of an edge's length. */
export function pointOnEdge<F extends FrameOfReference>(edge: Edge<F>, share: number): PointUm<F> {
  return {
    xUm: edge.from.xUm + share * (edge.to.xUm - edge.from.xUm),
    yUm: edge.from.yUm + share * (edge.to.yUm - edge.from.yUm),
  };
}
