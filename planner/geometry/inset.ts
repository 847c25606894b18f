import type { FrameOfReference, PointUm } from '../units/index.ts';
import { pointOnEdge } from './crossing.ts';
import { isConvex } from './hull.ts';
import { movedLeft, rawInsetCurve } from './insetCurve.ts';
import type { GridEdge, GridPoint } from './insetGrid.ts';
import { windingLoops } from './insetLoops.ts';
import { cutAtMeetings } from './insetNodes.ts';
import { areaUm2, boundingBox, distanceToSegmentUm, edgesOf, perimeterUm, signedAreaUm2 } from './measure.ts';
import type { Edge, Polygon } from './measure.ts';
import { simplify } from './simplify.ts';

/** Grid steps over the longer side of what is drawn on it, as a power of two: below a millionth of a micrometre for a whole wafer. */
const GRID_BITS = 38;
/** A piece thinner than this many grid steps is rounding; a corner no farther than that off the line of its neighbours is none. */
const THIN_STEPS = 8;

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
  const box = boundingBox(polygon);
  if (2 * marginUm >= Math.min(box.xMaxUm - box.xMinUm, box.yMaxUm - box.yMinUm)) return [];
  const pieces = isConvex(turned) ? [insetConvex(turned, marginUm)] : insetConcave(turned, marginUm);
  const leastUm2 = areaUm2(polygon) * 1e-12;
  return pieces.filter((piece) => areaUm2(piece) > leastUm2).sort((a, b) => areaUm2(b) - areaUm2(a));
}

/** A convex polygon is cut by the line of each of its edges, moved inwards. */
function insetConvex<F extends FrameOfReference>(polygon: Polygon<F>, marginUm: number): Polygon<F> {
  const cut = edgesOf(polygon).reduce<Polygon<F>>((left, edge) => cutLeftOf(left, movedLeft(edge, marginUm)), polygon);
  // Two cuts through one place leave two corners there but for rounding.
  return simplify(cut, 1e-9 * marginUm);
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
 * What the raw curve winds round, found on a fine grid where every question is answered exactly: so the loops always close, however
 * nearly edges are parallel or corners meet.
 */
function insetConcave<F extends FrameOfReference>(polygon: Polygon<F>, marginUm: number): readonly Polygon<F>[] {
  const grid = gridOver(polygon, marginUm);
  const corners = rawInsetCurve(polygon, marginUm).map(grid.toGrid);
  const pieces = cutAtMeetings(corners.map((a, i) => ({ a, b: corners[(i + 1) % corners.length] ?? a })));
  const edges = edgesOf(polygon);
  const leastUm = marginUm * 0.99 - 1000 * grid.stepUm;
  const mayBound = ({ a, b }: GridEdge) => {
    const middle = grid.fromGrid({ x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 });
    return edges.every(({ from, to }) => distanceToSegmentUm(middle, from, to) >= leastUm);
  };
  const thinUm = THIN_STEPS * grid.stepUm;
  return windingLoops(pieces, mayBound)
    .map((loop) => simplify(loop.map(grid.fromGrid), thinUm))
    .filter((loop) => loop.length >= 3 && signedAreaUm2(loop) > thinUm * perimeterUm(loop));
}

interface Grid<F extends FrameOfReference> {
  readonly stepUm: number;
  readonly toGrid: (point: PointUm<F>) => GridPoint;
  readonly fromGrid: (point: GridPoint) => PointUm<F>;
}

/** A grid about the middle of a polygon that holds everything within the margin of it. */
function gridOver<F extends FrameOfReference>(polygon: Polygon<F>, marginUm: number): Grid<F> {
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = boundingBox(polygon);
  const xUm = (xMinUm + xMaxUm) / 2;
  const yUm = (yMinUm + yMaxUm) / 2;
  const stepUm = 2 ** (Math.ceil(Math.log2(Math.max(xMaxUm - xMinUm, yMaxUm - yMinUm) + 4 * marginUm)) - GRID_BITS);
  return {
    stepUm,
    toGrid: (point) => ({ x: Math.round((point.xUm - xUm) / stepUm), y: Math.round((point.yUm - yUm) / stepUm) }),
    fromGrid: (point) => ({ xUm: xUm + point.x * stepUm, yUm: yUm + point.y * stepUm }),
  };
}
