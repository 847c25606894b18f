import type { GreyPicture } from '../greyPicture.ts';
import type { PictureShift } from '../phaseCorrelation.ts';
import { shiftNear } from './shiftNear.ts';

/** Smaller windows show too little to be told from chance. */
const LEAST_SIDE_PX = 64;
/** Windows step by this share of their side, so that what is sought lies within a fifth of one of them. */
const STEP_SHARE = 0.25;
/** Surely not by chance: no need to look on. */
const SURE_SCORE = 30;

/**
 * The stronger objective's picture as the weaker one would show it: each of its pixels is put where it falls, shared between four pixels,
 * which is an average over the weaker one's pixel. The middles of both pictures coincide, and so do their axes, for the camera is the same.
 * `undefined` where that would be too small.
 * @param ratio a pixel of the stronger objective over one of the weaker, below 1
 */
export function resampledDown(stronger: GreyPicture, ratio: number): GreyPicture | undefined {
  const widthPx = 2 * Math.floor((ratio * stronger.widthPx) / 2);
  const heightPx = 2 * Math.floor((ratio * stronger.heightPx) / 2);
  if (Math.min(widthPx, heightPx) < LEAST_SIDE_PX) return undefined;
  const sums = new Float64Array(widthPx * heightPx);
  const weights = new Float64Array(widthPx * heightPx);
  for (let row = 0; row < stronger.heightPx; row++) {
    // Less the half pixel: a pixel's centre then lies on a whole number.
    const y = ratio * (row + 0.5 - stronger.heightPx / 2) + heightPx / 2 - 0.5;
    for (let col = 0; col < stronger.widthPx; col++) {
      const x = ratio * (col + 0.5 - stronger.widthPx / 2) + widthPx / 2 - 0.5;
      spread(sums, weights, widthPx, heightPx, x, y, stronger.data[row * stronger.widthPx + col] as number);
    }
  }
  return { widthPx, heightPx, data: sums.map((sum, i) => sum / Math.max(1e-9, weights[i] as number)) };
}

function spread(sums: Float64Array, weights: Float64Array, width: number, height: number, x: number, y: number, value: number): void {
  const [left, top] = [Math.floor(x), Math.floor(y)];
  for (let dy = 0; dy <= 1; dy++) {
    for (let dx = 0; dx <= 1; dx++) {
      const [col, row] = [left + dx, top + dy];
      if (col < 0 || row < 0 || col >= width || row >= height) continue;
      const weight = (dx === 0 ? left + 1 - x : x - left) * (dy === 0 ? top + 1 - y : y - top);
      const i = row * width + col;
      sums[i] = (sums[i] as number) + weight * value;
      weights[i] = (weights[i] as number) + weight;
    }
  }
}

/**
 * Where the middle of a small picture lies in a larger one of the same scale, in pixels off the larger one's middle: windows of the larger
 * one are compared from the middle outwards, and the best match counts. `undefined` when nothing matches within the reach.
 */
export function findPatch(patch: GreyPicture, within: GreyPicture, reachPx: number): PictureShift | undefined {
  const step = Math.max(1, Math.floor(STEP_SHARE * Math.min(patch.widthPx, patch.heightPx)));
  let best: PictureShift | undefined;
  for (const [colPx, rowPx] of outwards(step, reachPx)) {
    const window = windowAt(within, patch, colPx, rowPx);
    const match = window && shiftNear(window.picture, patch, { colPx: 0, rowPx: 0, withinPx: step });
    if (!window || !match?.ok || match.shift.score <= (best?.score ?? 0)) continue;
    // What lies at a place of the window lies `shift` further in the patch: the patch's middle is that much further back.
    best = { colPx: window.colPx - match.shift.colPx, rowPx: window.rowPx - match.shift.rowPx, score: match.shift.score };
    if (best.score >= SURE_SCORE) return best;
  }
  return best;
}

/** Places of a grid within the reach, the nearest first. */
function outwards(step: number, reach: number): readonly (readonly [number, number])[] {
  const most = Math.ceil(reach / step);
  const along = Array.from({ length: 2 * most + 1 }, (_, i) => (i - most) * step);
  return along.flatMap((row) => along.map((col) => [col, row] as const)).sort((a, b) => Math.hypot(...a) - Math.hypot(...b));
}

/** The part of a picture that is as large as the patch, with its middle off the picture's; `undefined` beyond its edge. */
function windowAt(picture: GreyPicture, { widthPx, heightPx }: GreyPicture, colPx: number, rowPx: number) {
  const left = Math.round((picture.widthPx - widthPx) / 2 + colPx);
  const top = Math.round((picture.heightPx - heightPx) / 2 + rowPx);
  if (left < 0 || top < 0 || left + widthPx > picture.widthPx || top + heightPx > picture.heightPx) return undefined;
  const data = new Float64Array(widthPx * heightPx);
  for (let row = 0; row < heightPx; row++) {
    for (let col = 0; col < widthPx; col++) data[row * widthPx + col] = picture.data[(top + row) * picture.widthPx + left + col] as number;
  }
  return { picture: { widthPx, heightPx, data }, colPx: left + widthPx / 2 - picture.widthPx / 2, rowPx: top + heightPx / 2 - picture.heightPx / 2 };
}
