import { boundingBox, containsPoint, distanceToEdgeUm } from '../../geometry/polygon.ts';
import type { StagePoint } from '../../units/index.ts';
import { boxGapUm } from './neighbour.ts';
import type { Neighbour } from './neighbour.ts';
import type { Clearance } from './types.ts';

type Outline = readonly StagePoint[];

/** Farther away than this nothing is looked for: the spot that a stamp touches is of this order (common practice, no source), um. */
export const CLEARANCE_LIMIT_UM = 250;

/**
 * Free radius about a flake's centre, and free room about its outline, to the nearest thick flake or dirt that stands on the chip. What
 * lies wholly on the flake is its own blemish and not counted here. Both are at most the limit, which then means "at least".
 */
export function clearanceOf(outlineUm: Outline, centreUm: StagePoint, neighbours: readonly Neighbour[], limitUm = CLEARANCE_LIMIT_UM): Clearance {
  const box = boundingBox(outlineUm);
  const near = neighbours.filter((n) => n.stands).map((n) => ({ ...n, away: boxGapUm(n.boxUm, box) })).filter((n) => n.away < limitUm);
  near.sort((a, b) => a.away - b.away || a.id.localeCompare(b.id));
  const pointBox = boundingBox([centreUm]);
  let [radiusUm, gapUm] = [limitUm, limitUm];
  let nearest: string | undefined;
  for (const neighbour of near) {
    if (neighbour.away >= gapUm && boxGapUm(neighbour.boxUm, pointBox) >= radiusUm) continue;
    for (const other of neighbour.outlinesUm) {
      if (other.length < 3 || other.every((p) => containsPoint(outlineUm, p))) continue;
      radiusUm = Math.min(radiusUm, distanceFrom(other, centreUm));
      const gap = gapBetweenUm(outlineUm, other);
      if (gap >= gapUm) continue;
      gapUm = gap;
      nearest = neighbour.id;
    }
  }
  return { radiusUm, gapUm, ...(nearest === undefined ? {} : { nearest }) };
}

function distanceFrom(polygon: Outline, point: StagePoint): number {
  return containsPoint(polygon, point) ? 0 : distanceToEdgeUm(polygon, point);
}

/** Least distance between two outlines; 0 where one has a corner inside the other. Of two that do not cross, the nearest place is a corner of one. */
export function gapBetweenUm(a: Outline, b: Outline): number {
  const fromA = a.reduce((least, p) => Math.min(least, distanceFrom(b, p)), Infinity);
  return fromA === 0 ? 0 : b.reduce((least, p) => Math.min(least, distanceFrom(a, p)), fromA);
}
