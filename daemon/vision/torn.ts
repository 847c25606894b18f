import { BLACK } from './cells.ts';
import type { Cells } from './cells.ts';
import type { ContrastImage } from './contrast.ts';

/** Steps of so many columns at one row, all sharper than the optics: two frames in one. */
const COLUMNS_LEAST = 40;
/** And of the columns that step there at all, this share. */
const SHARE_LEAST = 0.6;
/** A step over three rows of so many times the noise is looked at. */
const STEP = 12;
/** So many rows are looked at more closely. */
const CANDIDATES = 4;
/** Rounding of sums leaves this much spread in samples that are all the same. */
const QUIET = 1e-6;
/** Rows that the 3x3 mean behind the mask may move a seam by. */
const SMEAR = 2;

/**
 * Whether a whole row of cells is black without any noise in a frame that has light elsewhere: what is missing was never sent. Beyond the
 * chip's edge it is dark too, but a camera's dark is noisy.
 */
export function hasMissingRows(cells: Cells): boolean {
  const { columns, rows, channels, mean, deviation } = cells;
  for (let row = 0; row < rows; row++) {
    let isSent = false;
    for (let i = row * columns * channels; i < (row + 1) * columns * channels && !isSent; i++) isSent = (mean[i] as number) >= BLACK || (deviation[i] as number) > QUIET;
    if (!isSent) return true;
  }
  return false;
}

/**
 * Whether a frame is put together of two: along one row, things begin and end in a single step. The optics spread the sharpest edge
 * over several rows: of a step over three rows, an edge blurred by a Gaussian of sigma takes erf(0.5 / (sqrt(2) sigma)) /
 * erf(1.5 / (sqrt(2) sigma)) in the middle one; half-way from there to 1 is sharper than they can.
 * @param mask 1 where the frame differs from bare oxide
 * @param sigmaPx of the point spread, pixel included
 */
export function isTorn(image: ContrastImage, mask: Uint8Array, noise: readonly number[], sigmaPx: number): boolean {
  const optical = errorFunction(0.5 / (Math.SQRT2 * sigmaPx)) / errorFunction(1.5 / (Math.SQRT2 * sigmaPx));
  const sharp = (1 + optical) / 2;
  const seen = new Set<number>();
  for (const row of likelyRows(mask, image)) {
    for (let r = Math.max(2, row - SMEAR); r <= Math.min(image.heightPx - 2, row + SMEAR + 1); r++) {
      if (seen.has(r)) continue;
      seen.add(r);
      const { steps, sharpSteps } = stepsAt(image, r, noise, sharp);
      if (sharpSteps >= COLUMNS_LEAST && sharpSteps >= SHARE_LEAST * steps) return true;
    }
  }
  return false;
}

/** Rows at which most columns pass from bare oxide to something or back; every other column is enough. */
function likelyRows(mask: Uint8Array, { widthPx, heightPx }: ContrastImage): readonly number[] {
  const counts: { readonly row: number; readonly count: number }[] = [];
  for (let row = 0; row + 1 < heightPx; row++) {
    let count = 0;
    for (let at = row * widthPx, end = at + widthPx; at < end; at += 2) count += (mask[at] as number) ^ (mask[at + widthPx] as number);
    if (4 * count >= COLUMNS_LEAST) counts.push({ row, count });
  }
  return counts.sort((a, b) => b.count - a.count || a.row - b.row).slice(0, CANDIDATES).map(({ row }) => row);
}

/** Columns that step between row - 1 and row, and those whose step is over within that one row; a step that full scale cuts off looks sharp. */
function stepsAt(image: ContrastImage, row: number, noise: readonly number[], sharp: number): { readonly steps: number; readonly sharpSteps: number } {
  const { widthPx, planes, saturated } = image;
  let [steps, sharpSteps] = [0, 0];
  for (let at = row * widthPx, end = at + widthPx; at < end; at++) {
    let [largest, ratio] = [STEP, 0];
    for (let c = 0; c < planes.length; c++) {
      const plane = planes[c] as Float32Array;
      const whole = Math.abs((plane[at + widthPx] as number) - (plane[at - 2 * widthPx] as number));
      if (whole < largest * (noise[c] as number)) continue;
      largest = whole / (noise[c] as number);
      ratio = Math.abs((plane[at] as number) - (plane[at - widthPx] as number)) / whole;
    }
    if (ratio === 0 || saturated[at + widthPx] === 1 || saturated[at] === 1 || saturated[at - widthPx] === 1 || saturated[at - 2 * widthPx] === 1) continue;
    steps++;
    if (ratio > sharp) sharpSteps++;
  }
  return { steps, sharpSteps };
}

/** Abramowitz and Stegun 7.1.26, good to 1.5e-7. */
function errorFunction(x: number): number {
  const t = 1 / (1 + 0.3275911 * x);
  return 1 - ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t * Math.exp(-x * x);
}
