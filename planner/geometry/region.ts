import type { FrameOfReference, PointUm } from '../units/index.ts';
import type { Polygon } from './measure.ts';

/** A part of the plane: what lies inside the outline and in none of the holes. Holes may overlap each other and reach over the outline. */
export interface Region<F extends FrameOfReference> {
  readonly outlineUm: Polygon<F>;
  readonly holesUm: readonly Polygon<F>[];
}

/** A region as numbers for inner loops, counted from the outline's first corner so that no digits are lost far from the stage's origin. */
export interface PackedRegion<F extends FrameOfReference> {
  readonly originUm: PointUm<F>;
  /** x and y of both ends of each edge, ring after ring: the outline first. */
  readonly ends: Float64Array;
  /** Edge at which each ring starts, and the number of all edges last. */
  readonly rings: readonly number[];
}

/** Packs a region; edges without length are kept, they harm nothing. Throws RangeError for an outline of fewer than three corners. */
export function packRegion<F extends FrameOfReference>(region: Region<F>): PackedRegion<F> {
  const [originUm] = region.outlineUm;
  if (!originUm || region.outlineUm.length < 3) throw new RangeError(`outline of ${region.outlineUm.length} corners`);
  const rings = [region.outlineUm, ...region.holesUm.filter((hole) => hole.length >= 3)];
  const starts = [0];
  const ends: number[] = [];
  for (const ring of rings) {
    ring.forEach((from, i) => {
      const to = ring[(i + 1) % ring.length] ?? from;
      ends.push(from.xUm - originUm.xUm, from.yUm - originUm.yUm, to.xUm - originUm.xUm, to.yUm - originUm.yUm);
    });
    starts.push(ends.length / 4);
  }
  return { originUm, ends: Float64Array.from(ends), rings: starts };
}

/** The edges turned by minus `angleRad` about a place, which becomes (0, 0): what lies along the angle then lies along x. */
export function turnEdges(ends: Float64Array, angleRad: number, xUm: number, yUm: number, into: Float64Array): void {
  const cos = Math.cos(angleRad);
  const sin = Math.sin(angleRad);
  for (let i = 0; i < ends.length; i += 2) {
    const x = (ends[i] as number) - xUm;
    const y = (ends[i + 1] as number) - yUm;
    into[i] = cos * x + sin * y;
    into[i + 1] = cos * y - sin * x;
  }
}

/** Whether a packed place lies in the region: inside the outline and in no hole (even-odd rule for each ring). */
export function isInside(ends: Float64Array, rings: readonly number[], xUm: number, yUm: number): boolean {
  for (let ring = 0; ring + 1 < rings.length; ring++) {
    const inside = isInRing(ends, rings[ring] as number, rings[ring + 1] as number, xUm, yUm);
    if (inside !== (ring === 0)) return false;
  }
  return true;
}

function isInRing(ends: Float64Array, from: number, to: number, xUm: number, yUm: number): boolean {
  let inside = false;
  for (let i = 4 * from; i < 4 * to; i += 4) {
    const ay = ends[i + 1] as number;
    const by = ends[i + 3] as number;
    if (ay > yUm === by > yUm) continue;
    const ax = ends[i] as number;
    if (xUm < ax + (((ends[i + 2] as number) - ax) * (yUm - ay)) / (by - ay)) inside = !inside;
  }
  return inside;
}
