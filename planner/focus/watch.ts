import type { FramePose } from '../units/index.ts';
import { apply2, invert2 } from '../units/index.ts';
import { energyMap, median } from './texture.ts';
import type { EnergyMap, Samples } from './texture.ts';

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
/**
 * Frames of a chip in focus show the same edges as sharp as the frames before them, give or take: 0.71 to 1.3, most of them 0.9 to 1.06, on simulated chips at
 * 10x/0.30 a fifth of the depth of field off. 8 um off they show 0.27 to 0.75. A frame below this share is not known to be in focus...
 */
const SHARP_FROM = 0.75;
/**
 * ...and what falls short of it adds up until it is certain: a cumulative sum of the logarithm (Page, Biometrika 41 (1954) 100; from memory), with
 * an allowance a third of the way to what is looked for and a bound that one bad frame or a few poor ones pass.
 */
const ALLOWANCE = 0.25;
const BOUND = 0.35;
/** Edges count when their energy exceeds what the cells' own scatter makes of nothing by this factor (common practice, no source). */
const LEAST_SIGNIFICANCE = 8;
/**
 * The same part of the chip shows about the same long differences, or less of them when it is far out of focus: outside of these factors the
 * two frames do not see the same.
 */
const MORE_AT_MOST = 1.7;
const LESS_AT_MOST = 8;

/**
 * Judges a frame by the parts of the chip that earlier frames show too: the same edges must be as sharp as before. So nothing needs to be
 * known of what they are. Frames known to be in focus are heard first: among blurred ones a blurred one looks as usual.
 * @param isProven whether the frame itself is known to be in focus: focus was just measured there
 */
export function watchSharpness(watch: SharpnessWatch, samples: Samples, pose: FramePose, isProven = false): { readonly watch: SharpnessWatch; readonly sharpness: Sharpness } {
  const map = energyMap(samples, CELL_PX);
  const compared = watch.frames.map((earlier) => ({ isProven: earlier.isProven, ratio: againstEarlier(earlier, { pose, map }) }));
  const heard = (proven: boolean): readonly number[] => compared.flatMap((one) => (one.isProven === proven && one.ratio !== undefined ? [one.ratio] : []));
  const witnesses = heard(true);
  const ratios = witnesses.length > 0 ? witnesses : heard(false);
  const ratio = isProven || ratios.length === 0 ? undefined : median(ratios);
  const doubt = isProven ? 0 : ratio === undefined ? watch.doubt : Math.max(0, watch.doubt - Math.log(ratio) - ALLOWANCE);
  if (doubt > BOUND) return { watch: { ...watch, doubt }, sharpness: 'doubtful' };
  const isSharp = isProven || (witnesses.length > 0 && ratio !== undefined && ratio >= SHARP_FROM && doubt === 0);
  return { watch: { frames: [...watch.frames.slice(1 - KEPT), { pose, map, isProven: isSharp }], doubt }, sharpness: isSharp ? 'sharp' : 'silent' };
}

/** Focus was measured, and was where it was thought to be: all remembered frames count as in focus. */
export function proven(watch: SharpnessWatch): SharpnessWatch {
  return { frames: watch.frames.map((one) => (one.isProven ? one : { ...one, isProven: true })), doubt: 0 };
}

/** Focus had jumped: only what was known to be in focus is remembered. */
export function withoutUnproven(watch: SharpnessWatch): SharpnessWatch {
  return { frames: watch.frames.filter((one) => one.isProven), doubt: 0 };
}

/** How sharp the edges are that both frames show, in the later one against the earlier; undefined where both show none. */
export function againstEarlier(earlier: Seen, later: Seen): number | undefined {
  const inverse = invert2(later.pose.cameraToStageUm);
  if (!inverse) return undefined;
  const [right, down] = apply2(inverse, later.pose.centreUm.xUm - earlier.pose.centreUm.xUm, later.pose.centreUm.yUm - earlier.pose.centreUm.yUm);
  const across = right / later.pose.widthPx;
  const along = down / later.pose.heightPx;
  if (Math.abs(across) >= 1 || Math.abs(along) >= 1) return undefined;
  const before = sharpnessIn(earlier.map, across, along);
  const after = sharpnessIn(later.map, -across, -along);
  if (!before || !after || after.long > MORE_AT_MOST * before.long || before.long > LESS_AT_MOST * after.long) return undefined;
  return after.short / after.long / (before.short / before.long);
}

/**
 * Energy of the edges in the part of a frame that another one covers, which lies `across` and `along` from it in shares of the frame's
 * sides; undefined where none stand out. Noise and all else that is the same everywhere is taken off as the usual cell. For one edge of
 * Gaussian blur s, the energy of differences d apart is d erf(d/2s) - 2s/sqrt(pi) (1 - exp(-d^2/4s^2)) times its height squared (closed
 * integral of the difference of two error functions): the ratio of a short to a long distance falls with s, whatever the edge.
 */
function sharpnessIn({ columns, rows, short, long }: EnergyMap, across: number, along: number): { readonly short: number; readonly long: number } | undefined {
  const cells: number[] = [];
  for (let row = 0; row < rows; row++) {
    const y = (row + 0.5) / rows - along;
    if (y < 0 || y > 1) continue;
    // Nothing is known of the last column's long differences, in this frame or in the other one.
    for (let column = 0; column < columns - 1; column++) {
      const x = (column + 0.5) / columns - across;
      if (x >= 0 && x <= 1 - 1 / columns) cells.push(row * columns + column);
    }
  }
  const shorts = cells.map((i) => short[i] as number);
  const longs = cells.map((i) => long[i] as number);
  const usual = median(longs);
  const usualShort = median(shorts);
  // Of normal scatter the median distance from the median is 0.67 standard deviations.
  const scatter = median(longs.map((value) => Math.abs(value - usual))) / 0.67;
  const sum = (values: readonly number[], less: number): number => values.reduce((total, value) => total + value - less, 0);
  const found = { short: Math.max(0, sum(shorts, usualShort)), long: sum(longs, usual) };
  return found.long > LEAST_SIGNIFICANCE * scatter * Math.sqrt(cells.length) && found.long > 0 && found.short > 0 ? found : undefined;
}
