import type { FrameOfReference, PointUm } from '../units/index.ts';
import { crossingShares, pointOnEdge } from './crossing.ts';
import { isConvex } from './hull.ts';
import { areaUm2, boundingBox, containsPoint, distanceToEdgeUm, edgesOf, signedAreaUm2 } from './measure.ts';
import type { Edge, Polygon } from './measure.ts';

/** Largest turn of one chord of the arc around a corner that points inwards: it takes at most 0.9 % more than the margin. */
const ARC_STEP_RAD = Math.PI / 12;

/** The polygon with its corners counter-clockwise (positive signed area). */
function counterClockwise<F extends FrameOfReference>(polygon: Polygon<F>): Polygon<F> {
  return signedAreaUm2(polygon) < 0 ? [...polygon].reverse() : polygon;
}

/**
 * What is left of a polygon when a rim of `marginUm` is taken off: every place inside at least that far from the edge.
 * It can fall into several pieces, or none: the pieces come largest first, counter-clockwise, and an empty list says that nothing is left.
 * Exact where all corners point outwards; around corners that point inwards the arc is replaced by chords outside it (0.9 % more margin).
 * The polygon must be simple (see findSelfCrossing). A negative margin is a RangeError.
 */
export function inset<F extends FrameOfReference>(polygon: Polygon<F>, marginUm: number): readonly Polygon<F>[] {
  if (!(marginUm >= 0)) throw new RangeError(`margin of ${marginUm} um`);
  if (polygon.length < 3 || areaUm2(polygon) === 0) return [];
  const turned = counterClockwise(polygon);
  if (marginUm === 0) return [turned];
  const pieces = isConvex(turned) ? [insetConvex(turned, marginUm)] : insetConcave(turned, marginUm);
  const leastUm2 = areaUm2(polygon) * 1e-12;
  return pieces.filter((piece) => areaUm2(piece) > leastUm2).sort((a, b) => areaUm2(b) - areaUm2(a));
}

/** An edge moved to its left (inwards for a counter-clockwise polygon). */
function shifted<F extends FrameOfReference>(edge: Edge<F>, marginUm: number): Edge<F> {
  const dx = edge.to.xUm - edge.from.xUm;
  const dy = edge.to.yUm - edge.from.yUm;
  const scale = marginUm / Math.hypot(dx, dy);
  const move = (p: PointUm<F>): PointUm<F> => ({ xUm: p.xUm - dy * scale, yUm: p.yUm + dx * scale });
  return { index: edge.index, from: move(edge.from), to: move(edge.to) };
}

/** A convex polygon is cut by the line of each of its edges, moved inwards. */
function insetConvex<F extends FrameOfReference>(polygon: Polygon<F>, marginUm: number): Polygon<F> {
  return edgesOf(polygon).reduce<Polygon<F>>((left, edge) => cutLeftOf(left, shifted(edge, marginUm)), polygon);
}

/** The part of a convex polygon to the left of a line (Sutherland and Hodgman, Communications of the ACM 17 (1974) 32; from memory). */
function cutLeftOf<F extends FrameOfReference>(polygon: Polygon<F>, line: Edge<F>): Polygon<F> {
  const dx = line.to.xUm - line.from.xUm;
  const dy = line.to.yUm - line.from.yUm;
  const side = (p: PointUm<F>) => dx * (p.yUm - line.from.yUm) - dy * (p.xUm - line.from.xUm);
  return edgesOf(polygon).flatMap((edge) => {
    const a = side(edge.from);
    const b = side(edge.to);
    const kept = a >= 0 ? [edge.from] : [];
    return a >= 0 === b >= 0 ? kept : [...kept, pointOnEdge(edge, a / (a - b))];
  });
}

/**
 * The moved edges, joined around inward corners by chords of the arc and elsewhere straight, are cut wherever they cross; what lies
 * inside the polygon and at least the margin away from its edge is kept and joined into closed pieces.
 */
function insetConcave<F extends FrameOfReference>(polygon: Polygon<F>, marginUm: number): readonly Polygon<F>[] {
  const box = boundingBox(polygon);
  const slackUm = 1e-9 * Math.max(marginUm, box.xMaxUm - box.xMinUm, box.yMaxUm - box.yMinUm);
  const kept = cutAtCrossings(edgesOf(movedEdge(polygon, marginUm))).filter((piece) => {
    const middle = pointOnEdge(piece, 0.5);
    return distanceToEdgeUm(polygon, middle) >= marginUm - slackUm && containsPoint(polygon, middle);
  });
  return joinPieces(kept, 10 * slackUm);
}

function movedEdge<F extends FrameOfReference>(polygon: Polygon<F>, marginUm: number): Polygon<F> {
  const edges = edgesOf(polygon);
  return edges.flatMap((edge, i) => {
    const moved = shifted(edge, marginUm);
    return [moved.from, moved.to, ...arcChords(edge, edges[(i + 1) % edges.length] ?? edge, marginUm)];
  });
}

/** Corners of the chords that touch the arc of radius `marginUm` from outside, where two edges turn to the right; none elsewhere. */
function arcChords<F extends FrameOfReference>(edge: Edge<F>, next: Edge<F>, marginUm: number): PointUm<F>[] {
  const heading = (e: Edge<F>) => Math.atan2(e.to.yUm - e.from.yUm, e.to.xUm - e.from.xUm);
  const turn = heading(next) - heading(edge);
  const wrapped = turn - 2 * Math.PI * Math.round(turn / (2 * Math.PI));
  if (wrapped >= 0) return [];
  const steps = Math.ceil(-wrapped / ARC_STEP_RAD);
  const radiusUm = marginUm / Math.cos(wrapped / (2 * steps));
  return Array.from({ length: steps }, (_, i) => {
    const direction = heading(edge) + Math.PI / 2 + (wrapped * (i + 0.5)) / steps;
    return { xUm: edge.to.xUm + radiusUm * Math.cos(direction), yUm: edge.to.yUm + radiusUm * Math.sin(direction) };
  });
}

function cutAtCrossings<F extends FrameOfReference>(edges: readonly Edge<F>[]): readonly Edge<F>[] {
  return edges.flatMap((edge) => {
    const cuts = edges.flatMap((other) => (other === edge ? [] : (crossingShares(edge, other)?.slice(0, 1) ?? [])));
    const shares = [0, ...cuts.sort((a, b) => a - b), 1];
    return shares.slice(1).map((to, i) => ({ index: edge.index, from: pointOnEdge(edge, shares[i] ?? 0), to: pointOnEdge(edge, to) }));
  });
}

/** Follows pieces from end to start until they close; what does not close within `reachUm` is dropped. */
function joinPieces<F extends FrameOfReference>(pieces: readonly Edge<F>[], reachUm: number): readonly Polygon<F>[] {
  const near = (a: PointUm<F>, b: PointUm<F>) => Math.hypot(a.xUm - b.xUm, a.yUm - b.yUm) <= reachUm;
  const open = pieces.filter((piece) => !near(piece.from, piece.to));
  const closed: Polygon<F>[] = [];
  for (let first = open.pop(); first; first = open.pop()) {
    const corners = [first.from];
    let end = first.to;
    while (!near(end, first.from)) {
      const next = open.findIndex((piece) => near(piece.from, end));
      const [piece] = next < 0 ? [] : open.splice(next, 1);
      if (!piece) break;
      corners.push(piece.from);
      end = piece.to;
    }
    if (near(end, first.from) && corners.length >= 3 && signedAreaUm2(corners) > 0) closed.push(corners);
  }
  return closed;
}
