import type { BoxUm, FrameOfReference, PointUm } from '../units/index.ts';

/** A closed polygon: the first corner is not repeated at the end; either sense of rotation; holes are not part of it. */
export type Polygon<F extends FrameOfReference> = readonly PointUm<F>[];

/** One edge of a polygon, from corner `index` to the next one. */
export interface Edge<F extends FrameOfReference> {
  readonly index: number;
  readonly from: PointUm<F>;
  readonly to: PointUm<F>;
}

/** The edges of a closed polygon, the last one leading back to the first corner; edges of no length are left out. */
export function edgesOf<F extends FrameOfReference>(polygon: Polygon<F>): readonly Edge<F>[] {
  const edges: Edge<F>[] = [];
  polygon.forEach((from, index) => {
    const to = polygon[(index + 1) % polygon.length] ?? from;
    if (from.xUm !== to.xUm || from.yUm !== to.yUm) edges.push({ index, from, to });
  });
  return edges;
}

/** Twice the signed area of the triangle a, b, c in um2: above zero when they turn from +x towards +y. */
export function turnUm2<F extends FrameOfReference>(a: PointUm<F>, b: PointUm<F>, c: PointUm<F>): number {
  return (b.xUm - a.xUm) * (c.yUm - a.yUm) - (b.yUm - a.yUm) * (c.xUm - a.xUm);
}

/** Area by the shoelace formula, in um2: above zero when the corners run from +x towards +y (counter-clockwise on the stage). */
export function signedAreaUm2<F extends FrameOfReference>(polygon: Polygon<F>): number {
  const [origin] = polygon;
  if (!origin) return 0;
  // Taken from the first corner, so that a small flake far from the stage's origin loses no digits.
  let twice = 0;
  let before = origin;
  for (const corner of polygon) {
    twice += turnUm2(origin, before, corner);
    before = corner;
  }
  return twice / 2;
}

/** Area in um2, whatever the sense of rotation. */
export function areaUm2<F extends FrameOfReference>(polygon: Polygon<F>): number {
  return Math.abs(signedAreaUm2(polygon));
}

/** Length of the closed edge in um. */
export function perimeterUm<F extends FrameOfReference>(polygon: Polygon<F>): number {
  return edgesOf(polygon).reduce((sum, { from, to }) => sum + Math.hypot(to.xUm - from.xUm, to.yUm - from.yUm), 0);
}

/** Centre of area; the mean of the corners when there is no area. Throws RangeError when there is no corner. */
export function centroid<F extends FrameOfReference>(polygon: Polygon<F>): PointUm<F> {
  const [origin] = polygon;
  if (!origin) throw new RangeError('centroid of a polygon without corners');
  let twice = 0;
  let xSum = 0;
  let ySum = 0;
  let before = origin;
  for (const corner of polygon) {
    const weight = turnUm2(origin, before, corner);
    twice += weight;
    xSum += weight * (before.xUm + corner.xUm - 2 * origin.xUm);
    ySum += weight * (before.yUm + corner.yUm - 2 * origin.yUm);
    before = corner;
  }
  if (twice === 0) return meanPoint(polygon);
  return { xUm: origin.xUm + xSum / (3 * twice), yUm: origin.yUm + ySum / (3 * twice) };
}

function meanPoint<F extends FrameOfReference>(points: Polygon<F>): PointUm<F> {
  const sum = points.reduce<{ xUm: number; yUm: number }>((s, p) => ({ xUm: s.xUm + p.xUm, yUm: s.yUm + p.yUm }), { xUm: 0, yUm: 0 });
  return { xUm: sum.xUm / points.length, yUm: sum.yUm / points.length };
}

/** The smallest axis-parallel box around the points. Throws RangeError when there is none. */
export function boundingBox<F extends FrameOfReference>(points: Polygon<F>): BoxUm<F> {
  if (points.length === 0) throw new RangeError('bounding box of no points');
  let xMinUm = Infinity;
  let xMaxUm = -Infinity;
  let yMinUm = Infinity;
  let yMaxUm = -Infinity;
  for (const { xUm, yUm } of points) {
    xMinUm = Math.min(xMinUm, xUm);
    xMaxUm = Math.max(xMaxUm, xUm);
    yMinUm = Math.min(yMinUm, yUm);
    yMaxUm = Math.max(yMaxUm, yUm);
  }
  return { xMinUm, xMaxUm, yMinUm, yMaxUm };
}

/** Whether a point lies inside (even-odd rule). A point exactly on the edge may count either way. */
export function containsPoint<F extends FrameOfReference>(polygon: Polygon<F>, point: PointUm<F>): boolean {
  let inside = false;
  for (const { from, to } of edgesOf(polygon)) {
    if (from.yUm > point.yUm === to.yUm > point.yUm) continue;
    const share = (point.yUm - from.yUm) / (to.yUm - from.yUm);
    if (point.xUm < from.xUm + share * (to.xUm - from.xUm)) inside = !inside;
  }
  return inside;
}

/** Distance of a point from a straight piece of line, ends included, in um. */
export function distanceToSegmentUm<F extends FrameOfReference>(point: PointUm<F>, from: PointUm<F>, to: PointUm<F>): number {
  const dx = to.xUm - from.xUm;
  const dy = to.yUm - from.yUm;
  const lengthSquared = dx * dx + dy * dy;
  const along = lengthSquared === 0 ? 0 : ((point.xUm - from.xUm) * dx + (point.yUm - from.yUm) * dy) / lengthSquared;
  const share = Math.min(1, Math.max(0, along));
  return Math.hypot(point.xUm - from.xUm - share * dx, point.yUm - from.yUm - share * dy);
}

/** Distance of a point from the nearest edge in um, inside or outside; Infinity for a polygon without edges. */
export function distanceToEdgeUm<F extends FrameOfReference>(polygon: Polygon<F>, point: PointUm<F>): number {
  return edgesOf(polygon).reduce((least, { from, to }) => Math.min(least, distanceToSegmentUm(point, from, to)), Infinity);
}
