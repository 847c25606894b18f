import type { FramePose, StagePoint } from '../units/index.ts';
import { apply2, distanceUm, invert2 } from '../units/index.ts';
import { median } from '../units/median.ts';
import { energyMap, levelOf, strongestEdgesIn } from './texture.ts';
import type { EdgePlace, EnergyMap, Level, Samples } from './texture.ts';

/** Where a frame was taken, and how sharp its edges are where. */
interface Seen {
  readonly pose: FramePose;
  readonly map: EnergyMap;
}

/** A frame as it is remembered. */
interface Remembered extends Seen {
  /** Known to be in focus: measured there, or as sharp as one that is known to be. */
  readonly isProven: boolean;
}

/** What is remembered of the frames of late. */
export interface SharpnessWatch {
  /** The newest last. */
  readonly frames: readonly Remembered[];
  /** How much of a fall in sharpness has come together; 0 while all is well. */
  readonly doubt: number;
}

/** Nothing seen yet. */
export const NOTHING_WATCHED: SharpnessWatch = { frames: [], doubt: 0 };

/** `silent`: no earlier frame that is known to be in focus shows the same edges. */
export type Sharpness = 'sharp' | 'doubtful' | 'silent';

/** Frames remembered: more than two rows of a usual chip at 20x, so that each meets its neighbours of the row before. */
const KEPT = 72;
const CELL_PX = 16;
/** Frames near a place among which the one with the strongest edges is looked for. */
const NEAREST = 8;
/** Edges this many times above the usual are strong: a focus search finds their peak at once (on simulated chips at 20x/0.45). */
const STRONG = 10;
/**
 * Frames of a chip in focus show the same edges as sharp as the frames before them, give or take: 0.71 to 1.3, most of them 0.9 to 1.06, on simulated chips at
 * 10x/0.30 a fifth of the depth of field off. 8 um off they show 0.27 to 0.75. A frame below this share is not known to be in focus...
 */
const SHARP_FROM = 0.75;
/**
 * ...and what falls short of it adds up until it is certain: a cumulative sum of the logarithm (Page, Biometrika 41 (1954) 100; from memory), with
 * an allowance a third of the way to what is looked for and a bound that two bad frames or a few poor ones pass. One alone does so only where
 * it is much blurred against one that is known to be in focus: now and then two frames see what they share so differently that it looks like half.
 */
const ALLOWANCE = 0.25;
const BOUND = 0.35;
const CERTAIN = 0.45;
/** As blurred as can be: of the short differences nothing is left above the noise. */
const LEAST_RATIO = 0.05;
/** Cells, beside its own, that a long difference reaches into. */
const REACH_CELLS = 1;
/** A row of cells is left out when its guards hold more than this share of its inner cells' energy. */
const GUARDED_SHARE = 0.3;
/** Edges count when their energy exceeds what the cells' own scatter makes of nothing by this factor (common practice, no source). */
const LEAST_SIGNIFICANCE = 8;
/**
 * The same part of the chip shows about the same long differences, or less of them when it is far out of focus: outside of these factors the
 * two frames do not see the same.
 */
const MORE_AT_MOST = 1.7;
const LESS_AT_MOST = 30;

/**
 * Judges a frame by the parts of the chip that earlier frames show too: the same edges must be as sharp as before. So nothing needs to be
 * known of what they are. Frames known to be in focus are heard first: among blurred ones a blurred one looks as usual.
 * @param isProven whether the frame itself is known to be in focus: focus was just measured there
 */
export function watchSharpness(watch: SharpnessWatch, samples: Samples, pose: FramePose, isProven = false): { readonly watch: SharpnessWatch; readonly sharpness: Sharpness; readonly map: EnergyMap } {
  const map = energyMap(samples, CELL_PX);
  const compared = watch.frames.map((earlier) => ({ isProven: earlier.isProven, ratio: againstEarlier(earlier, { pose, map }) }));
  const heard = (proven: boolean): readonly number[] => compared.flatMap((one) => (one.isProven === proven && one.ratio !== undefined ? [one.ratio] : []));
  const witnesses = heard(true);
  const ratios = witnesses.length > 0 ? witnesses : heard(false);
  const ratio = isProven || ratios.length === 0 ? undefined : median(ratios);
  const doubt = isProven ? 0 : ratio === undefined ? watch.doubt : Math.max(0, watch.doubt + doubtOf(ratio, witnesses.length > 0));
  if (doubt > BOUND) return { watch: { ...watch, doubt }, sharpness: 'doubtful', map };
  const isSharp = isProven || (witnesses.length > 0 && ratio !== undefined && ratio >= SHARP_FROM && doubt === 0);
  return { watch: { frames: [...watch.frames.slice(1 - KEPT), { pose, map, isProven: isSharp }], doubt }, sharpness: isSharp ? 'sharp' : 'silent', map };
}

/** What one frame's sharpness against earlier ones adds to the doubt; only those known to be in focus can take of it. */
function doubtOf(ratio: number, isAgainstProven: boolean): number {
  const change = -Math.log(ratio) - ALLOWANCE;
  if (isAgainstProven) return ratio < CERTAIN ? change : Math.min(BOUND, change);
  return Math.max(0, Math.min(BOUND, change));
}

/** Focus was measured, and was where it was thought to be: all remembered frames count as in focus. */
export function proven(watch: SharpnessWatch): SharpnessWatch {
  return { frames: watch.frames.map((one) => (one.isProven ? one : { ...one, isProven: true })), doubt: 0 };
}

/** Focus had jumped: only what was known to be in focus is remembered. */
export function withoutUnproven(watch: SharpnessWatch): SharpnessWatch {
  return { frames: watch.frames.filter((one) => one.isProven), doubt: 0 };
}

/** A frame taken of late that shows something to focus on, and where in it. */
export interface TexturedFrame {
  readonly pose: FramePose;
  readonly look: EdgePlace;
}

/**
 * Of the remembered frames nearest to a place those that show edges, at most so many: there focus can be measured again without a long way.
 * The nearest one with strong edges comes first, then by their strength.
 */
export function texturedFrames({ frames }: SharpnessWatch, near: StagePoint, most: number): readonly TexturedFrame[] {
  const nearest = [...frames].sort((a, b) => distanceUm(a.pose.centreUm, near) - distanceUm(b.pose.centreUm, near)).slice(0, NEAREST);
  const found = nearest.flatMap(({ pose, map }) => {
    const edges = strongestEdgesIn(map, CELL_PX);
    return edges ? [{ pose, look: { right: edges.right, down: edges.down }, strength: edges.strength }] : [];
  });
  const first = found.find(({ strength }) => strength >= STRONG);
  const others = found.filter((one) => one !== first).sort((a, b) => b.strength - a.strength);
  return (first ? [first, ...others] : others).slice(0, most);
}

/** How sharp the edges are that both frames show, in the later one against the earlier; undefined where both show none. */
export function againstEarlier(earlier: Seen, later: Seen): number | undefined {
  const inverse = invert2(later.pose.cameraToStageUm);
  if (!inverse) return undefined;
  const [right, down] = apply2(inverse, later.pose.centreUm.xUm - earlier.pose.centreUm.xUm, later.pose.centreUm.yUm - earlier.pose.centreUm.yUm);
  const across = right / later.pose.widthPx;
  const along = down / later.pose.heightPx;
  if (Math.abs(across) >= 1 || Math.abs(along) >= 1) return undefined;
  const shared = sharedCells(earlier.map, across, along);
  const before = edgesIn(earlier.map, shared);
  // What lies there in the later frame, to half a cell.
  const aside = { columns: Math.round(across * later.map.columns), rows: Math.round(along * later.map.rows) };
  const after = edgesIn(later.map, { ...shared, from: shared.from - aside.columns, to: shared.to - aside.columns, rows: shared.rows.map((row) => row - aside.rows) });
  // Of an edge that was blurred before, the short differences may be all noise; one that is blurred now may have lost them.
  if (!before?.isShortSure || !after || after.long > MORE_AT_MOST * before.long || before.long > LESS_AT_MOST * after.long) return undefined;
  return Math.max(LEAST_RATIO, after.short / after.long / (before.short / before.long));
}

/** Cells of a frame that another one shows as well: columns from and to, both of them guards, and some rows. */
interface SharedCells {
  readonly from: number;
  readonly to: number;
  readonly rows: readonly number[];
}

/**
 * The part of a frame that another one covers, which lies `across` and `along` from it in shares of the frame's sides. A long difference
 * reaches into the next cell, so that what lies in the outermost shared cells counts there and beside them in unlike shares, which also
 * differ from frame to frame: these cells are guards, and rows whose guards hold much are left out.
 */
function sharedCells(map: EnergyMap, across: number, along: number): SharedCells {
  const { columns, rows } = map;
  const from = Math.max(0, Math.ceil(across * columns));
  const to = Math.min(columns, Math.floor((1 + across) * columns)) - REACH_CELLS - 1;
  // Rounding to the later frame's rows must not lead out of it.
  const [top, bottom] = [Math.max(0, Math.round(along * rows)), Math.min(rows, rows + Math.round(along * rows))];
  const all = { from, to, rows: Array.from({ length: Math.max(0, bottom - top) }, (_, i) => top + i) };
  const level = levelOf(sharedEnergies(map.long, columns, all));
  const isQuiet = (row: number): boolean => {
    const guards = Math.max(above(map.long, level, columns, row, from, from), above(map.long, level, columns, row, to, to));
    return guards <= LEAST_SIGNIFICANCE * level.scatter || guards <= GUARDED_SHARE * above(map.long, level, columns, row, from + 1, to - 1);
  };
  return { ...all, rows: all.rows.filter(isQuiet) };
}

/** Energy of edges above what is the same everywhere. */
interface Edges {
  readonly short: number;
  readonly long: number;
  /** The short differences stand out as well. */
  readonly isShortSure: boolean;
}

/**
 * Energy of the edges in some cells of a frame; undefined where none stand out. Noise and all else that is the same everywhere is taken off as the usual cell. For one edge of
 * Gaussian blur s, the energy of differences d apart is d erf(d/2s) - 2s/sqrt(pi) (1 - exp(-d^2/4s^2)) times its height squared (closed
 * integral of the difference of two error functions): the ratio of a short to a long distance falls with s, whatever the edge.
 */
function edgesIn({ columns, short, long }: EnergyMap, shared: SharedCells): Edges | undefined {
  const { from, to, rows } = shared;
  if (to - from < 2 || rows.length === 0) return undefined;
  const standsOut = (energy: number, { scatter }: Level): boolean => energy > 0 && energy > LEAST_SIGNIFICANCE * scatter * Math.sqrt(rows.length * (to - from - 1));
  const sum = (energy: Float32Array, level: Level): number => rows.reduce((total, row) => total + above(energy, level, columns, row, from + 1, to - 1), 0);
  const [shortLevel, longLevel] = [levelOf(sharedEnergies(short, columns, shared)), levelOf(sharedEnergies(long, columns, shared))];
  const found = { short: sum(short, shortLevel), long: sum(long, longLevel) };
  return standsOut(found.long, longLevel) ? { ...found, isShortSure: standsOut(found.short, shortLevel) } : undefined;
}

/** What the cells of a row hold above the usual, from one column to another. */
function above(energy: Float32Array, { usual }: Level, columns: number, row: number, first: number, last: number): number {
  let total = 0;
  for (let column = first; column <= last; column++) total += (energy[row * columns + column] ?? 0) - usual;
  return total;
}

function sharedEnergies(energy: Float32Array, columns: number, { from, to, rows }: SharedCells): readonly number[] {
  return rows.flatMap((row) => Array.from(energy.subarray(row * columns + from, row * columns + to + 1)));
}
