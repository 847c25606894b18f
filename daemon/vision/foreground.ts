import type { ContrastImage } from './contrast.ts';

/** Squared distance from the substrate, in noise units summed over channels, beyond which a sample is not bare oxide. */
const LIMIT = 36;
/** What the substrate fit may be off by, as contrast: added to the noise so that a slow error of the fit makes no foreground. */
const FIT_ERROR = 0.003;

/** 1 for every sample whose 3x3 mean differs from bare oxide. */
export function foregroundMask(image: ContrastImage, noise: readonly number[]): Uint8Array {
  const { widthPx, heightPx, planes } = image;
  const distance = new Float32Array(widthPx * heightPx);
  planes.forEach((plane, channel) => {
    const sigma = noise[channel] as number;
    addDistance(plane, widthPx, heightPx, 1 / (81 * ((sigma * sigma) / 9 + FIT_ERROR * FIT_ERROR)), distance);
  });
  const mask = new Uint8Array(widthPx * heightPx);
  for (let i = 0; i < mask.length; i++) if ((distance[i] as number) > LIMIT) mask[i] = 1;
  return mask;
}

/** Adds weight * (sum over 3x3)^2 to `distance`; rows and columns beyond the edge repeat the outermost. */
function addDistance(plane: Float32Array, width: number, height: number, weight: number, distance: Float32Array): void {
  const line = new Float32Array(width + 2);
  for (let row = 0; row < height; row++) {
    const above = Math.max(0, row - 1) * width;
    const here = row * width;
    const below = Math.min(height - 1, row + 1) * width;
    for (let c = 0; c < width; c++) line[c + 1] = (plane[above + c] as number) + (plane[here + c] as number) + (plane[below + c] as number);
    line[0] = line[1] as number;
    line[width + 1] = line[width] as number;
    let left = line[0];
    let middle = line[1] as number;
    for (let c = 0; c < width; c++) {
      const right = line[c + 2] as number;
      const sum = left + middle + right;
      distance[here + c] = (distance[here + c] as number) + weight * sum * sum;
      left = middle;
      middle = right;
    }
  }
}
