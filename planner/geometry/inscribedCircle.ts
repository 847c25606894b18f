import type { FrameOfReference, PointUm } from '../units/index.ts';
import { areaUm2, boundingBox, centroid, perimeterUm } from './measure.ts';
import type { Polygon } from './measure.ts';

export interface Circle<F extends FrameOfReference> {
  readonly centreUm: PointUm<F>;
  readonly radiusUm: number;
}

/** A square of the search: its centre, half its side, and how far its centre lies inside the polygon (below zero: outside). */
interface Cell {
  readonly xUm: number;
  readonly yUm: number;
  readonly halfUm: number;
  readonly depthUm: number;
}

/** Corners as numbers in a row (x0, y0, x1, y1, ..., and the first again), for the inner loop. */
function packCorners<F extends FrameOfReference>(polygon: Polygon<F>): Float64Array {
  const packed = new Float64Array(2 * polygon.length + 2);
  [...polygon, ...polygon.slice(0, 1)].forEach((p, i) => {
    packed[2 * i] = p.xUm;
    packed[2 * i + 1] = p.yUm;
  });
  return packed;
}

/** Distance from the edge, above zero inside (even-odd rule) and below zero outside; both found in one pass over the edges. */
function depthUm(corners: Float64Array, xUm: number, yUm: number): number {
  let inside = false;
  let least = Infinity;
  let ax = (corners[0] as number) - xUm;
  let ay = (corners[1] as number) - yUm;
  for (let i = 2; i < corners.length; i += 2) {
    const bx = (corners[i] as number) - xUm;
    const by = (corners[i + 1] as number) - yUm;
    const dx = bx - ax;
    const dy = by - ay;
    if (ay > 0 !== by > 0 && ax - (ay * dx) / dy > 0) inside = !inside;
    const lengthSquared = dx * dx + dy * dy;
    const along = lengthSquared === 0 ? 0 : -(ax * dx + ay * dy) / lengthSquared;
    const share = along < 0 ? 0 : along > 1 ? 1 : along;
    const px = ax + share * dx;
    const py = ay + share * dy;
    const squared = px * px + py * py;
    if (squared < least) least = squared;
    ax = bx;
    ay = by;
  }
  return inside ? Math.sqrt(least) : -Math.sqrt(least);
}

function firstCells<F extends FrameOfReference>(polygon: Polygon<F>, corners: Float64Array): Cell[] {
  const box = boundingBox(polygon);
  const widthUm = box.xMaxUm - box.xMinUm;
  const heightUm = box.yMaxUm - box.yMinUm;
  const sideUm = Math.min(widthUm, heightUm);
  const columns = Math.ceil(widthUm / sideUm);
  const rows = Math.ceil(heightUm / sideUm);
  return Array.from({ length: columns * rows }, (_, i) => {
    const xUm = box.xMinUm + ((i % columns) + 0.5) * sideUm;
    const yUm = box.yMinUm + (Math.floor(i / columns) + 0.5) * sideUm;
    return { xUm, yUm, halfUm: sideUm / 2, depthUm: depthUm(corners, xUm, yUm) };
  });
}

function quarters(cell: Cell, corners: Float64Array): Cell[] {
  const halfUm = cell.halfUm / 2;
  return [-1, 1].flatMap((sx) =>
    [-1, 1].map((sy) => {
      const xUm = cell.xUm + sx * halfUm;
      const yUm = cell.yUm + sy * halfUm;
      return { xUm, yUm, halfUm, depthUm: depthUm(corners, xUm, yUm) };
    }),
  );
}

/**
 * The largest circle inside a polygon (holes are not known here), its radius at most `tolerance` (default 1 %) short of the true one.
 *
 * Squares are cut into quarters as long as they could still hold a better centre: the depth anywhere in a square exceeds that at its
 * middle by half its diagonal at most. A simple polygon of area A and perimeter P holds a circle of at least A/P, because all of it
 * lies within one such radius of its edge; so the absolute tolerance, and with it the work, is bounded for slivers too.
 * A polygon without area gives a radius of 0. Throws RangeError when there is no corner.
 */
export function inscribedCircle<F extends FrameOfReference>(polygon: Polygon<F>, tolerance = 0.01): Circle<F> {
  const middle = centroid(polygon);
  const insideUm2 = areaUm2(polygon);
  if (insideUm2 === 0) return { centreUm: middle, radiusUm: 0 };
  const corners = packCorners(polygon);
  const leastUm = insideUm2 / perimeterUm(polygon);
  let best: Cell = { ...middle, halfUm: 0, depthUm: depthUm(corners, middle.xUm, middle.yUm) };
  let cells = firstCells(polygon, corners);
  while (cells.length > 0) {
    for (const cell of cells) if (cell.depthUm > best.depthUm) best = cell;
    // A radius r is reported where at most r (1 + tolerance) is possible, so that it is short by less than `tolerance`.
    const worthUm = best.depthUm + tolerance * Math.max(best.depthUm, leastUm);
    cells = cells.filter((cell) => cell.depthUm + cell.halfUm * Math.SQRT2 > worthUm).flatMap((cell) => quarters(cell, corners));
  }
  return { centreUm: { xUm: best.xUm, yUm: best.yUm }, radiusUm: Math.max(0, best.depthUm) };
}
