import type { FrameOfReference, PointUm } from '../units/index.ts';
import { fillRings, gridOverOutline } from './fillRings.ts';
import { rectangleInMask, rectangleScratch } from './maskRectangle.ts';
import { growRectangle } from './growRectangle.ts';
import type { TurnedRectangle } from './growRectangle.ts';
import { packRegion, turnEdges } from './region.ts';
import type { PackedRegion, Region } from './region.ts';

/** A rectangle at any angle. */
export interface Bar<F extends FrameOfReference> {
  readonly centreUm: PointUm<F>;
  /** The longer side. */
  readonly lengthUm: number;
  readonly widthUm: number;
  /** Direction of the longer side from +x towards +y, 0 to below 180 degrees. */
  readonly angleDeg: number;
}

/** Samples along each side of the coarse search; the box of the turned outline sets their size. */
const GRID = 48;
/** Angles of the coarse search over a quarter turn; a rectangle turned by a right angle is itself. */
const ANGLES = 30;
/** Directions of the longest edges, which the coarse search tries besides: a rectangle often lies along one. */
const EDGE_ANGLES = 6;
/** Coarse finds that are refined. */
const REFINED = 9;
/** Finds at each angle: the largest, and the largest beside it, since a hole may leave several ways to lie. */
const FINDS = 2;
const QUARTER = Math.PI / 2;

/**
 * The largest rectangle at any angle inside a region with holes; `undefined` when none was found (no area). Two steps: on a coarse grid
 * at many angles the largest rectangle of whole samples, then the best few grown and turned against the exact edges, so that what comes
 * back truly lies inside. It is a search and no proof: over random polygons it stays within 5 % of the area of an exhaustive one (tests).
 */
export function inscribedRectangle<F extends FrameOfReference>(region: Region<F>): Bar<F> | undefined {
  const packed = packRegion(region);
  let best: TurnedRectangle | undefined;
  for (const found of chooseApart(coarseFinds(packed))) {
    const grown = growRectangle(packed, found, best ? best.halfLength * best.halfWidth : 0);
    if (grown && (!best || grown.halfLength * grown.halfWidth > best.halfLength * best.halfWidth)) best = grown;
  }
  return best && asBar(packed.originUm, best);
}

/** A rectangle in the packed frame as a bar on the stage: the longer side is its length. */
export function asBar<F extends FrameOfReference>(originUm: PointUm<F>, found: TurnedRectangle): Bar<F> {
  const along = found.halfLength >= found.halfWidth;
  const degrees = ((along ? found.angleRad : found.angleRad + QUARTER) * 180) / Math.PI;
  const angleDeg = degrees - 180 * Math.floor(degrees / 180);
  return {
    centreUm: { xUm: originUm.xUm + found.x, yUm: originUm.yUm + found.y },
    lengthUm: 2 * Math.max(found.halfLength, found.halfWidth),
    widthUm: 2 * Math.min(found.halfLength, found.halfWidth),
    angleDeg: angleDeg >= 180 ? 0 : angleDeg,
  };
}

function coarseFinds<F extends FrameOfReference>(packed: PackedRegion<F>): readonly TurnedRectangle[] {
  const ends = new Float64Array(packed.ends.length);
  const [mask, toggles, scratch] = [new Uint8Array(GRID * GRID), new Uint8Array(GRID * GRID), rectangleScratch(GRID)];
  return searchAngles(packed).flatMap((angleRad) => {
    turnEdges(packed.ends, angleRad, 0, 0, ends);
    const grid = gridOverOutline(ends, packed.rings, GRID);
    fillRings(ends, packed.rings, grid, mask, toggles);
    const [cos, sin] = [Math.cos(angleRad), Math.sin(angleRad)];
    return Array.from({ length: FINDS }, (): TurnedRectangle => {
      const { col, row, columns, rows } = rectangleInMask(mask, GRID, GRID, scratch);
      for (let r = row; r < row + rows; r++) mask.fill(0, r * GRID + col, r * GRID + col + columns);
      const u = grid.xMin + (col + columns / 2) * grid.dx;
      const v = grid.yMin + (row + rows / 2) * grid.dy;
      return { angleRad, x: cos * u - sin * v, y: sin * u + cos * v, halfLength: (columns * grid.dx) / 2, halfWidth: (rows * grid.dy) / 2 };
    });
  });
}

/** Even steps over a quarter turn, and the directions of the longest edges. */
function searchAngles<F extends FrameOfReference>(packed: PackedRegion<F>): readonly number[] {
  const { ends } = packed;
  const even = Array.from({ length: ANGLES }, (_, i) => (i * QUARTER) / ANGLES);
  const edges = Array.from({ length: ends.length / 4 }, (_, i) => {
    const dx = (ends[4 * i + 2] as number) - (ends[4 * i] as number);
    const dy = (ends[4 * i + 3] as number) - (ends[4 * i + 1] as number);
    const angle = Math.atan2(dy, dx);
    return { angle: angle - QUARTER * Math.floor(angle / QUARTER), length: Math.hypot(dx, dy) };
  });
  edges.sort((a, b) => b.length - a.length || a.angle - b.angle);
  return [...even, ...edges.slice(0, EDGE_ANGLES).map((e) => e.angle)];
}

/** The largest finds that are not the same rectangle seen at a neighbouring angle. */
function chooseApart(finds: readonly TurnedRectangle[]): readonly TurnedRectangle[] {
  const chosen: TurnedRectangle[] = [];
  for (const find of [...finds].sort((a, b) => b.halfLength * b.halfWidth - a.halfLength * a.halfWidth)) {
    if (chosen.length === REFINED || find.halfLength === 0) break;
    if (!chosen.some((other) => alike(find, other))) chosen.push(find);
  }
  return chosen;
}

function alike(a: TurnedRectangle, b: TurnedRectangle): boolean {
  const turn = Math.abs(a.angleRad - b.angleRad);
  const near = Math.hypot(a.x - b.x, a.y - b.y) < Math.min(a.halfLength, a.halfWidth);
  return near && Math.min(turn, QUARTER - turn) < (1.5 * QUARTER) / ANGLES;
}
