import type { ContrastImage } from './contrast.ts';
import { sumThreeRows } from './threeRows.ts';

/** Squared distance from the substrate, in noise units summed over channels, beyond which a sample is not bare oxide. */
const LIMIT = 36;
/** What the substrate fit may be off by, as contrast: added to the noise so that a slow error of the fit makes no foreground. */
const FIT_ERROR = 0.003;

/** 1 for every sample whose 3x3 mean differs from bare oxide; rows and columns beyond the edge repeat the outermost. */
export function foregroundMask(image: ContrastImage, noise: readonly number[]): Uint8Array {
  const { widthPx, heightPx, planes } = image;
  const weights = noise.map((sigma) => 1 / (81 * ((sigma * sigma) / 9 + FIT_ERROR * FIT_ERROR)));
  const mask = new Uint8Array(widthPx * heightPx);
  const distance = new Float32Array(widthPx);
  const line = new Float32Array(widthPx + 2);
  for (let row = 0; row < heightPx; row++) {
    distance.fill(0);
    for (let channel = 0; channel < planes.length; channel++) addDistance(planes[channel] as Float32Array, row, heightPx, weights[channel] as number, line, distance);
    for (let col = 0, at = row * widthPx; col < widthPx; col++, at++) if ((distance[col] as number) > LIMIT) mask[at] = 1;
  }
  return mask;
}

/** Adds weight * (sum over 3x3)^2 of one row to `distance`, which is as wide as the frame; `line` has room for one sample more on either side. */
function addDistance(plane: Float32Array, row: number, height: number, weight: number, line: Float32Array, distance: Float32Array): void {
  const width = distance.length;
  sumThreeRows(plane, row, width, height, line);
  let left = line[0] as number;
  let middle = line[1] as number;
  for (let c = 0; c < width; c++) {
    const right = line[c + 2] as number;
    const sum = left + middle + right;
    distance[c] = (distance[c] as number) + weight * sum * sum;
    left = middle;
    middle = right;
  }
}
