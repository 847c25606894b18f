import { median } from '../units/median.ts';
import type { GreyPicture } from './greyPicture.ts';

/** A straight edge in a picture: the points p with n . p = offset, n = (cos, sin) of the angle, pixels from the outer corner. */
export interface PictureEdge {
  readonly angleRad: number;
  readonly offsetPx: number;
  /** Standard error of the offset at the middle of what was seen of the edge. */
  readonly errorPx: number;
  readonly points: number;
}

export type EdgesResult =
  | { readonly ok: true; readonly edges: readonly [PictureEdge, PictureEdge]; readonly corner: { readonly colPx: number; readonly rowPx: number } }
  | { readonly ok: false; readonly refusal: EdgesRefusal };

export type EdgesRefusal =
  /** The picture is all chip or all holder: nothing dark meets anything bright. */
  | { readonly code: 'noEdge' }
  /** One edge alone: the corner lies outside the picture. */
  | { readonly code: 'oneEdge'; readonly edge: PictureEdge };

interface Point {
  readonly x: number;
  readonly y: number;
}

/** Holder and chip differ by at least this share of the brighter one. */
const LEAST_CONTRAST = 0.25;
/** Points this near to a line are of it. */
const NEAR_PX = 1.5;
/** Points looked at about a line found roughly, and those that count for it: a flake at the edge lies farther off. */
const ABOUT_PX = 3 * NEAR_PX;
const ON_LINE_PX = 0.5;
/** What lies farther off than so many times the usual is left out in turn: a faint flake across the edge moves it by a third of a pixel. */
const OUTLYING = 3;
const ROUNDS = 6;
const LEAST_WITHIN_PX = 0.05;
/** So many points, spread over what lies near, are joined by twos to find the line that most lie on. */
const SUPPORTS = 24;
/** An edge is seen over at least this share of the picture's shorter side. */
const LEAST_LENGTH = 0.2;
const ANGLES = 360;
/** A second edge runs at another angle than the first by at least so much: chips are cleaved at 60 to 120 degrees. */
const LEAST_TURN_RAD = Math.PI / 6;

/**
 * The two straight edges of a chip that meet in a picture, and their corner. Where the picture passes half-way between the chip's brightness
 * and the holder's, to a part of a pixel along rows and columns; of these points the longest line (Hough transform; Duda and Hart,
 * Communications of the ACM 15 (1972) 11; from memory), fitted by least squares across it, then the longest at another angle.
 */
export function chipEdges(picture: GreyPicture): EdgesResult {
  const points = boundaryOf(picture);
  const leastPoints = LEAST_LENGTH * Math.min(picture.widthPx, picture.heightPx);
  const first = longestEdge(points, picture, leastPoints);
  if (!first) return { ok: false, refusal: { code: 'noEdge' } };
  const others = points.filter((point) => Math.abs(awayFrom(first, point)) > 2 * NEAR_PX);
  const second = longestEdge(others, picture, leastPoints, first.angleRad);
  if (!second) return { ok: false, refusal: { code: 'oneEdge', edge: first } };
  return { ok: true, edges: [first, second], corner: meet(first, second) };
}

function awayFrom({ angleRad, offsetPx }: Pick<PictureEdge, 'angleRad' | 'offsetPx'>, { x, y }: Point): number {
  return x * Math.cos(angleRad) + y * Math.sin(angleRad) - offsetPx;
}

function meet(a: PictureEdge, b: PictureEdge): { readonly colPx: number; readonly rowPx: number } {
  const determinant = Math.cos(a.angleRad) * Math.sin(b.angleRad) - Math.cos(b.angleRad) * Math.sin(a.angleRad);
  return {
    colPx: (a.offsetPx * Math.sin(b.angleRad) - b.offsetPx * Math.sin(a.angleRad)) / determinant,
    rowPx: (b.offsetPx * Math.cos(a.angleRad) - a.offsetPx * Math.cos(b.angleRad)) / determinant,
  };
}

/** Where neighbouring pixels lie on both sides of half-way between dark and bright. */
function boundaryOf({ widthPx, heightPx, data }: GreyPicture): readonly Point[] {
  const sorted = Float64Array.from(data).sort();
  const [dark, bright] = [sorted[Math.floor(0.02 * sorted.length)] ?? 0, sorted[Math.floor(0.98 * sorted.length)] ?? 0];
  if (bright - dark < LEAST_CONTRAST * bright) return [];
  const half = (dark + bright) / 2;
  const points: Point[] = [];
  const at = (col: number, row: number): number => data[row * widthPx + col] as number;
  for (let row = 0; row < heightPx; row += 1) {
    for (let col = 0; col < widthPx; col += 1) {
      const here = at(col, row);
      if (col + 1 < widthPx && here < half !== at(col + 1, row) < half) points.push({ x: col + 0.5 + (half - here) / (at(col + 1, row) - here), y: row + 0.5 });
      if (row + 1 < heightPx && here < half !== at(col, row + 1) < half) points.push({ x: col + 0.5, y: row + 0.5 + (half - here) / (at(col, row + 1) - here) });
    }
  }
  return points;
}

/** The line that most points lie on, at another angle than one that is known; undefined where it is too short. */
function longestEdge(points: readonly Point[], { widthPx, heightPx }: GreyPicture, leastPoints: number, notRad?: number): PictureEdge | undefined {
  const reach = Math.ceil(Math.hypot(widthPx, heightPx)) + 1;
  const votes = new Uint32Array(ANGLES * (2 * reach));
  let most = 0;
  let best = -1;
  for (let k = 0; k < ANGLES; k += 1) {
    const angle = (Math.PI * k) / ANGLES;
    if (notRad !== undefined && turnBetween(angle, notRad) < LEAST_TURN_RAD) continue;
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    for (const { x, y } of points) {
      const bin = k * 2 * reach + Math.round(x * cos + y * sin) + reach;
      const count = ((votes[bin] as number) += 1);
      if (count > most) [most, best] = [count, bin];
    }
  }
  if (best < 0) return undefined;
  const k = Math.floor(best / (2 * reach));
  return fitted(points, { angleRad: (Math.PI * k) / ANGLES, offsetPx: (best % (2 * reach)) - reach }, leastPoints);
}

function turnBetween(a: number, b: number): number {
  const turn = Math.abs(a - b) % Math.PI;
  return Math.min(turn, Math.PI - turn);
}

/**
 * Of the lines through two of the points about a rough one, that on which most lie, the nearer the more they count (random sample consensus, with a fixed choice of samples:
 * Fischler and Bolles, Communications of the ACM 24 (1981) 381; from memory), then least squares across it. A fit to all of them would be drawn
 * aside by a flake that crosses the edge, and would stay there.
 */
function fitted(points: readonly Point[], rough: Pick<PictureEdge, 'angleRad' | 'offsetPx'>, leastPoints: number): PictureEdge | undefined {
  const about = points.filter((point) => Math.abs(awayFrom(rough, point)) <= ABOUT_PX);
  let line = mostCommon(about, rough);
  let near: readonly Point[] = [];
  let withinPx = ON_LINE_PX;
  for (let round = 0; round < ROUNDS; round += 1) {
    near = about.filter((point) => Math.abs(awayFrom(line, point)) <= withinPx);
    if (near.length < leastPoints) return undefined;
    line = throughPoints(near);
    const usualPx = median(near.map((point) => Math.abs(awayFrom(line, point))));
    withinPx = Math.max(LEAST_WITHIN_PX, Math.min(withinPx, OUTLYING * usualPx));
  }
  const rest = Math.sqrt(near.reduce((sum, point) => sum + awayFrom(line, point) ** 2, 0) / Math.max(1, near.length - 2));
  return { ...line, errorPx: rest / Math.sqrt(near.length), points: near.length };
}

function mostCommon(points: readonly Point[], rough: Pick<PictureEdge, 'angleRad' | 'offsetPx'>): Pick<PictureEdge, 'angleRad' | 'offsetPx'> {
  const along = ({ x, y }: Point): number => y * Math.cos(rough.angleRad) - x * Math.sin(rough.angleRad);
  const inOrder = [...points].sort((a, b) => along(a) - along(b));
  const supports = Array.from({ length: SUPPORTS }, (_, i) => inOrder[Math.floor(((i + 0.5) / SUPPORTS) * inOrder.length)]).filter((point) => point !== undefined);
  let best = { line: rough, weight: 0 };
  for (const [i, a] of supports.entries()) {
    for (const b of supports.slice(0, i)) {
      if (Math.hypot(a.x - b.x, a.y - b.y) < ABOUT_PX) continue;
      const line = throughPoints([a, b]);
      const weight = points.reduce((sum, point) => sum + Math.max(0, 1 - (awayFrom(line, point) / ON_LINE_PX) ** 2), 0);
      if (weight > best.weight) best = { line, weight };
    }
  }
  return best.line;
}

/** The line of least squared distances: through the middle, across the smaller second moment. */
function throughPoints(points: readonly Point[]): Pick<PictureEdge, 'angleRad' | 'offsetPx'> {
  const middle = points.reduce((sum, { x, y }) => ({ x: sum.x + x / points.length, y: sum.y + y / points.length }), { x: 0, y: 0 });
  let [xx, xy, yy] = [0, 0, 0];
  for (const { x, y } of points) {
    xx += (x - middle.x) ** 2;
    xy += (x - middle.x) * (y - middle.y);
    yy += (y - middle.y) ** 2;
  }
  // Along the line runs the larger moment; its normal is a quarter turn from that.
  const angleRad = Math.atan2(2 * xy, xx - yy) / 2 + Math.PI / 2;
  return { angleRad, offsetPx: middle.x * Math.cos(angleRad) + middle.y * Math.sin(angleRad) };
}
