import type { FramePose } from '../units/index.ts';
import { apply2, invert2 } from '../units/index.ts';
import { energyMap, median } from './texture.ts';
import type { EnergyMap, Samples } from './texture.ts';

/** A frame as it is remembered: how sharp its edges were, and where. */
interface Remembered {
  readonly pose: FramePose;
  readonly map: EnergyMap;
}

/** The frames of late; the newest last. */
export type SharpnessWatch = readonly Remembered[];

/** `silent`: no earlier frame shows the same edges. */
export type Sharpness = 'sharp' | 'doubtful' | 'silent';

/** Frames remembered: more than two rows of a usual chip at 20x, so that each meets its neighbours of the row before. */
const KEPT = 72;
const CELL_PX = 16;
/**
 * A frame is in doubt when the same edges are less sharp than before by this factor. On simulated chips at 10x/0.30: 0.83 and more a fifth of
 * the depth of field off, 0.65 to 1 half of it off, 0.25 to 0.75 at 8 um.
 */
const DOUBT_BELOW = 0.68;
/** Edges count when their energy exceeds what the cells' own scatter makes of nothing by this factor (common practice, no source). */
const LEAST_SIGNIFICANCE = 8;
/** The same part of the chip shows about the same long differences: outside of this factor the two frames do not see the same. */
const ALIKE = 1.7;

/**
 * Judges a frame by the parts of the chip that earlier frames show too: the same edges must be as sharp as before. So nothing needs to be
 * known of what they are.
 */
export function watchSharpness(watch: SharpnessWatch, samples: Samples, pose: FramePose): { readonly watch: SharpnessWatch; readonly sharpness: Sharpness } {
  const one: Remembered = { pose, map: energyMap(samples, CELL_PX) };
  const ratios = watch.map((earlier) => againstEarlier(earlier, one)).filter((ratio) => ratio !== undefined);
  if (ratios.length > 0 && median(ratios) < DOUBT_BELOW) return { watch, sharpness: 'doubtful' };
  return { watch: [...watch.slice(1 - KEPT), one], sharpness: ratios.length > 0 ? 'sharp' : 'silent' };
}

/** How sharp the edges are that both frames show, in the later one against the earlier; undefined where both show none. */
export function againstEarlier(earlier: Remembered, later: Remembered): number | undefined {
  const inverse = invert2(later.pose.cameraToStageUm);
  if (!inverse) return undefined;
  const [right, down] = apply2(inverse, later.pose.centreUm.xUm - earlier.pose.centreUm.xUm, later.pose.centreUm.yUm - earlier.pose.centreUm.yUm);
  const across = right / later.pose.widthPx;
  const along = down / later.pose.heightPx;
  if (Math.abs(across) >= 1 || Math.abs(along) >= 1) return undefined;
  const before = sharpnessIn(earlier.map, across, along);
  const after = sharpnessIn(later.map, -across, -along);
  if (!before || !after || after.long > ALIKE * before.long || before.long > ALIKE * after.long) return undefined;
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
    for (let column = 0; column < columns; column++) {
      const x = (column + 0.5) / columns - across;
      if (x >= 0 && x <= 1) cells.push(row * columns + column);
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
