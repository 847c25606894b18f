import type { FrameOfReference } from '../units/index.ts';
import { isInside, turnEdges } from './region.ts';
import type { PackedRegion } from './region.ts';

/** A rectangle in a packed region's frame. */
export interface TurnedRectangle {
  readonly x: number;
  readonly y: number;
  readonly angleRad: number;
  /** Half the side along the angle, and half of that across. */
  readonly halfLength: number;
  readonly halfWidth: number;
}

/** First steps of the search, as shares of the sides, and in radians; and how often they are halved. */
const FIRST_STEP = 0.12;
const FIRST_TURN_RAD = 0.03;
const HALVINGS = 9;
/** A side is drawn in by this share, so that rounding cannot push it over an edge. */
const SAFE = 1 - 1e-9;
/** A find that is this far below the best one when steps are small will not overtake it. */
const HOPELESS = 0.8;

/** Moves that are tried: both ends of the length, and the turn, each by a step out or in, alone and together. */
const MOVES: readonly (readonly [number, number, number])[] = [-1, 0, 1].flatMap((start) =>
  [-1, 0, 1].flatMap((end) => [-1, 0, 1].filter((turn) => start !== 0 || end !== 0 || turn !== 0).map((turn) => [start, end, turn] as const)),
);

/**
 * Grows and turns a rectangle inside a region until no small step makes it larger: the ends of one side and the angle are moved by
 * steps that are halved (compass search), and the other side always reaches from edge to edge, exactly; then the two sides change
 * places. `undefined` when the start's middle is not inside.
 * @param toBeat half-length times half-width of the best so far; a search that stays far behind is given up
 */
export function growRectangle<F extends FrameOfReference>(packed: PackedRegion<F>, start: TurnedRectangle, toBeat = 0): TurnedRectangle | undefined {
  if (!isInside(packed.ends, packed.rings, start.x, start.y)) return undefined;
  const ends = new Float64Array(packed.ends.length);
  let best = firstFit(packed.ends, ends, start);
  for (let halving = 0; halving < HALVINGS; halving++) {
    best = climb(packed.ends, ends, best, FIRST_STEP / 2 ** halving, FIRST_TURN_RAD / 2 ** halving);
    best = swapped(climb(packed.ends, ends, swapped(best), FIRST_STEP / 2 ** halving, FIRST_TURN_RAD / 2 ** halving));
    if (halving === 2 && best.halfLength * best.halfWidth < HOPELESS * toBeat) break;
  }
  return best.halfWidth > 0 ? { ...best, halfLength: best.halfLength * SAFE, halfWidth: best.halfWidth * SAFE } : undefined;
}

/** The start with its width as far as the edges go; drawn in along its length where an edge crosses its middle. */
function firstFit(given: Float64Array, ends: Float64Array, start: TurnedRectangle): TurnedRectangle {
  let halfLength = start.halfLength;
  for (let tries = 0; tries < 8; tries++, halfLength *= 0.7) {
    const fitted = widened(given, ends, start.x, start.y, start.angleRad, halfLength);
    if (fitted.halfWidth > 0) return fitted;
  }
  return { ...start, halfLength, halfWidth: 0 };
}

function climb(given: Float64Array, ends: Float64Array, from: TurnedRectangle, step: number, turnRad: number): TurnedRectangle {
  let best = from;
  for (let round = 0; round < 6; round++) {
    const before = best;
    for (const [start, end, turn] of MOVES) {
      const [back, ahead] = [1 + start * step, 1 + end * step];
      const angleRad = before.angleRad + turn * turnRad;
      const shift = (before.halfLength * (ahead - back)) / 2;
      const [x, y] = [before.x + shift * Math.cos(angleRad), before.y + shift * Math.sin(angleRad)];
      const moved = widened(given, ends, x, y, angleRad, (before.halfLength * (ahead + back)) / 2);
      if (moved.halfLength * moved.halfWidth > best.halfLength * best.halfWidth) best = moved;
    }
    if (best === before) break;
  }
  return best;
}

/** The same rectangle, told by its other side. */
function swapped(r: TurnedRectangle): TurnedRectangle {
  return { x: r.x, y: r.y, angleRad: r.angleRad + Math.PI / 2, halfLength: r.halfWidth, halfWidth: r.halfLength };
}

/** A rectangle of given length about a place, its sides pushed out to the nearest edges; width 0 where an edge crosses its middle line. */
function widened(given: Float64Array, ends: Float64Array, x: number, y: number, angleRad: number, halfLength: number): TurnedRectangle {
  turnEdges(given, angleRad, x, y, ends);
  let above = Infinity;
  let below = -Infinity;
  for (let i = 0; i < ends.length; i += 4) {
    let au = ends[i] as number;
    let av = ends[i + 1] as number;
    let bu = ends[i + 2] as number;
    let bv = ends[i + 3] as number;
    if (au > bu) [au, av, bu, bv] = [bu, bv, au, av];
    if (au >= halfLength || bu <= -halfLength) continue;
    const slope = (bv - av) / (bu - au);
    if (au < -halfLength) av += slope * (-halfLength - au);
    if (bu > halfLength) bv += slope * (halfLength - bu);
    const low = av < bv ? av : bv;
    const high = av < bv ? bv : av;
    if (low > 0) above = low < above ? low : above;
    else if (high < 0) below = high > below ? high : below;
    else return { x, y, angleRad, halfLength, halfWidth: 0 };
  }
  const middle = (above + below) / 2;
  return { x: x - middle * Math.sin(angleRad), y: y + middle * Math.cos(angleRad), angleRad, halfLength, halfWidth: (above - below) / 2 };
}
