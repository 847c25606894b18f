import type { FrameOfReference } from '../units/index.ts';
import { asBar } from './inscribedRectangle.ts';
import type { Bar } from './inscribedRectangle.ts';
import { isInside, packRegion, turnEdges } from './region.ts';
import type { PackedRegion, Region } from './region.ts';

/** How well a bar of given size fits into a region. */
export interface BarFit<F extends FrameOfReference> {
  readonly fits: boolean;
  /** How much larger a bar of the same shape could be: the best found, above 1 where it fits. Searched on to `ENOUGH` only. */
  readonly scale: number;
  /** Where the bar lies best, in its wanted size; it reaches over the edge where `fits` is false. */
  readonly bar: Bar<F>;
}

/** Angles that are tried over half a turn, before the best is turned finely. */
const ANGLES = 90;
/** The best place of an angle is found to this share of the bar's size. */
const TOLERANCE = 0.01;
/** A bar with this much room around it fits well enough: no better place is looked for. */
const ENOUGH = 1.25;
const HALVINGS = 7;

interface Place {
  readonly u: number;
  readonly v: number;
  readonly angleRad: number;
  readonly scale: number;
}

/**
 * Whether a bar of `lengthUm` by `widthUm` fits into a region, where, and at which angle. At each angle the place is found where a bar
 * of that shape can be largest: depth is measured in half-lengths along and half-widths across (a maximum norm), squares are cut into
 * quarters while they could still hold a better place, and an angle is left as soon as none could; the best is then turned finely.
 * Throws RangeError for sides that are not above zero.
 */
export function fitRectangle<F extends FrameOfReference>(region: Region<F>, lengthUm: number, widthUm: number): BarFit<F> {
  if (!(lengthUm > 0 && widthUm > 0)) throw new RangeError(`bar of ${lengthUm} by ${widthUm} um`);
  const packed = packRegion(region);
  const half = [lengthUm / 2, widthUm / 2] as const;
  const ends = new Float64Array(packed.ends.length);
  let best: Place = { u: 0, v: 0, angleRad: 0, scale: 0 };
  for (let i = 0; i < ANGLES && best.scale < ENOUGH; i++) best = bestPlace(packed, ends, half, (i * Math.PI) / ANGLES, best);
  for (let i = 1, turn = Math.PI / ANGLES / 2; i <= HALVINGS && best.scale < ENOUGH; i++, turn /= 2) {
    const { angleRad } = best;
    for (const to of [angleRad - turn, angleRad + turn]) best = bestPlace(packed, ends, half, to, best);
  }
  const [cos, sin] = [Math.cos(best.angleRad), Math.sin(best.angleRad)];
  const found = { x: cos * best.u - sin * best.v, y: sin * best.u + cos * best.v, angleRad: best.angleRad, halfLength: half[0], halfWidth: half[1] };
  return { fits: best.scale >= 1, scale: best.scale, bar: asBar(packed.originUm, found) };
}

/** A square of the search in the bar's own units, with the depth of its middle. */
interface Cell {
  readonly u: number;
  readonly v: number;
  readonly half: number;
  readonly depth: number;
}

/** The best place at one angle, or the one before where this angle has no better. */
function bestPlace<F extends FrameOfReference>(packed: PackedRegion<F>, ends: Float64Array, half: readonly [number, number], angleRad: number, before: Place): Place {
  turnEdges(packed.ends, angleRad, 0, 0, ends);
  for (let i = 0; i < ends.length; i += 2) {
    ends[i] = (ends[i] as number) / half[0];
    ends[i + 1] = (ends[i + 1] as number) / half[1];
  }
  let best = before;
  let cells = firstCells(ends, packed.rings);
  while (cells.length > 0) {
    for (const { u, v, depth } of cells) if (depth > best.scale) best = { u: u * half[0], v: v * half[1], angleRad, scale: depth };
    const worth = best.scale * (1 + TOLERANCE) + TOLERANCE / 4;
    cells = cells.filter((c) => c.depth + c.half > worth).flatMap((c) => quarters(c, ends, packed.rings));
  }
  return best;
}

function firstCells(ends: Float64Array, rings: readonly number[]): readonly Cell[] {
  let [uMin, uMax, vMin, vMax] = [Infinity, -Infinity, Infinity, -Infinity];
  for (let i = 0; i < 4 * (rings[1] as number); i += 2) {
    if (i % 4 !== 0) continue;
    uMin = Math.min(uMin, ends[i] as number);
    uMax = Math.max(uMax, ends[i] as number);
    vMin = Math.min(vMin, ends[i + 1] as number);
    vMax = Math.max(vMax, ends[i + 1] as number);
  }
  const side = Math.max(Math.min(uMax - uMin, vMax - vMin), Math.max(uMax - uMin, vMax - vMin) / 64, 1e-9);
  const [columns, rows] = [Math.ceil((uMax - uMin) / side), Math.ceil((vMax - vMin) / side)];
  return Array.from({ length: columns * rows }, (_, i) => {
    const [u, v] = [uMin + ((i % columns) + 0.5) * side, vMin + (Math.floor(i / columns) + 0.5) * side];
    return { u, v, half: side / 2, depth: depth(ends, rings, u, v) };
  });
}

function quarters(cell: Cell, ends: Float64Array, rings: readonly number[]): readonly Cell[] {
  const half = cell.half / 2;
  return [[-1, -1], [1, -1], [-1, 1], [1, 1]].map(([su = 0, sv = 0]) => {
    const [u, v] = [cell.u + su * half, cell.v + sv * half];
    return { u, v, half, depth: depth(ends, rings, u, v) };
  });
}

/** How far a place lies inside, in the maximum norm: below zero outside. */
function depth(ends: Float64Array, rings: readonly number[], u: number, v: number): number {
  let least = Infinity;
  for (let i = 0; i < ends.length; i += 4) {
    const away = reach((ends[i] as number) - u, (ends[i + 1] as number) - v, (ends[i + 2] as number) - u, (ends[i + 3] as number) - v, least);
    if (away < least) least = away;
  }
  return isInside(ends, rings, u, v) ? least : -least;
}

/**
 * Least max(|x|, |y|) along a straight piece of line: it is convex there, so the least lies at an end, where x or y is 0, or on a
 * diagonal. A piece that lies beyond `least` as a whole is not looked at closely.
 */
function reach(ax: number, ay: number, bx: number, by: number, least: number): number {
  if ((ax > least && bx > least) || (ax < -least && bx < -least) || (ay > least && by > least) || (ay < -least && by < -least)) return least;
  const [dx, dy] = [bx - ax, by - ay];
  let found = Math.min(Math.max(Math.abs(ax), Math.abs(ay)), Math.max(Math.abs(bx), Math.abs(by)));
  found = Math.min(found, at(ax, ay, dx, dy, -ax / dx), at(ax, ay, dx, dy, -ay / dy));
  return Math.min(found, at(ax, ay, dx, dy, (ay - ax) / (dx - dy)), at(ax, ay, dx, dy, (-ay - ax) / (dx + dy)));
}

/** max(|x|, |y|) at a share of the way; Infinity beyond its ends. */
function at(ax: number, ay: number, dx: number, dy: number, share: number): number {
  return share > 0 && share < 1 ? Math.max(Math.abs(ax + share * dx), Math.abs(ay + share * dy)) : Infinity;
}
