import type { FrameOfReference, PointUm } from '../units/index.ts';
import { distanceToSegmentUm } from './measure.ts';
import type { Polygon } from './measure.ts';
import { simplify } from './simplify.ts';

/** A straight line fitted to part of an outline. */
export interface StraightRun<F extends FrameOfReference> {
  readonly fromUm: PointUm<F>;
  readonly toUm: PointUm<F>;
  readonly lengthUm: number;
  /** 0 to below 180 degrees from +x towards +y. */
  readonly angleDeg: number;
  /** Root mean square distance of the outline from the line, um. */
  readonly strayUm: number;
}

export interface StraightOptions {
  /** Corners of the outline may lie this far off a straight edge, um. */
  readonly toleranceUm: number;
  /** Shorter ones are not edges, um. */
  readonly leastUm: number;
  /** Left out at both ends, where blur rounds the corner, um. */
  readonly trimUm: number;
  /** Distance between the places that the line is fitted to, um. */
  readonly stepUm: number;
}

/**
 * The straight pieces of a closed outline, in its order. The outline is divided at the corners that Douglas and Peucker's rule keeps;
 * each long enough piece is walked in equal steps, its ends left out, and the line of least squared distances is laid through them
 * (total least squares: the major axis of the places' scatter; Pearson, Philosophical Magazine 2 (1901) 559, from memory).
 */
export function straightRuns<F extends FrameOfReference>(outline: Polygon<F>, options: StraightOptions): readonly StraightRun<F>[] {
  const corners = new Set(simplify(outline, options.toleranceUm));
  const at = outline.flatMap((p, i) => (corners.has(p) ? [i] : []));
  const [first] = at;
  if (first === undefined || at.length < 2) return [];
  return at.flatMap((from, k) => {
    const to = at[k + 1] ?? first + outline.length;
    const piece = Array.from({ length: to - from + 1 }, (_, i) => outline[(from + i) % outline.length] as PointUm<F>);
    return fitPiece(piece, options);
  });
}

function fitPiece<F extends FrameOfReference>(piece: readonly PointUm<F>[], options: StraightOptions): readonly StraightRun<F>[] {
  const [a, b] = [piece[0], piece[piece.length - 1]];
  if (!a || !b || Math.hypot(b.xUm - a.xUm, b.yUm - a.yUm) < options.leastUm) return [];
  const places = walk(piece, options);
  if (places.length < 3 || piece.some((p) => distanceToSegmentUm(p, a, b) > options.toleranceUm)) return [];
  return [lineThrough(places)];
}

/** Places along an open line in equal steps, its ends left out. */
function walk<F extends FrameOfReference>(piece: readonly PointUm<F>[], options: StraightOptions): readonly PointUm<F>[] {
  const lengths = piece.slice(1).map((p, i) => Math.hypot(p.xUm - (piece[i] ?? p).xUm, p.yUm - (piece[i] ?? p).yUm));
  const total = lengths.reduce((sum, l) => sum + l, 0);
  const steps = Math.floor((total - 2 * options.trimUm) / options.stepUm);
  const first = (total - steps * options.stepUm) / 2;
  const places: PointUm<F>[] = [];
  let segment = 0;
  let before = 0;
  for (let i = 0; i <= steps; i++) {
    const away = first + i * options.stepUm;
    while (segment < lengths.length - 1 && before + (lengths[segment] as number) < away) before += lengths[segment++] as number;
    const [p, q] = [piece[segment], piece[segment + 1]];
    if (!p || !q) break;
    const share = (away - before) / Math.max(lengths[segment] as number, 1e-12);
    places.push({ xUm: p.xUm + share * (q.xUm - p.xUm), yUm: p.yUm + share * (q.yUm - p.yUm) });
  }
  return places;
}

function lineThrough<F extends FrameOfReference>(places: readonly PointUm<F>[]): StraightRun<F> {
  const origin = places[0] ?? { xUm: 0, yUm: 0 };
  const mean = { x: 0, y: 0 };
  for (const p of places) {
    mean.x += (p.xUm - origin.xUm) / places.length;
    mean.y += (p.yUm - origin.yUm) / places.length;
  }
  let [xx, xy, yy] = [0, 0, 0];
  for (const p of places) {
    const [dx, dy] = [p.xUm - origin.xUm - mean.x, p.yUm - origin.yUm - mean.y];
    xx += dx * dx;
    xy += dx * dy;
    yy += dy * dy;
  }
  const axis = Math.atan2(2 * xy, xx - yy) / 2;
  const [cos, sin] = [Math.cos(axis), Math.sin(axis)];
  const across = Math.max(0, sin * sin * xx - 2 * sin * cos * xy + cos * cos * yy);
  const along = places.map((p) => cos * (p.xUm - origin.xUm - mean.x) + sin * (p.yUm - origin.yUm - mean.y));
  const end = (t: number): PointUm<F> => ({ xUm: origin.xUm + mean.x + cos * t, yUm: origin.yUm + mean.y + sin * t });
  const [from, to] = [along[0] ?? 0, along[along.length - 1] ?? 0];
  const degrees = (axis * 180) / Math.PI;
  return { fromUm: end(from), toUm: end(to), lengthUm: Math.abs(to - from), angleDeg: degrees < 0 ? degrees + 180 : degrees, strayUm: Math.sqrt(across / Math.max(1, places.length - 2)) };
}
