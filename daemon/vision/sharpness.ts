import type { ContrastImage } from './contrast.ts';

/**
 * Gradient energy: mean squared difference of samples two apart along rows, in squares of the noise, less the 2 that noise alone
 * gives; every fourth row of the channel in the middle. Comparable between frames of one optical path.
 */
export function sharpnessOf(image: ContrastImage, noise: readonly number[]): number {
  const channel = image.planes.length >> 1;
  const plane = image.planes[channel] as Float32Array;
  const { widthPx, heightPx } = image;
  let sum = 0;
  let count = 0;
  for (let row = 0; row < heightPx; row += 4) {
    for (let at = row * widthPx, end = at + widthPx - 2; at < end; at++) {
      const step = (plane[at + 2] as number) - (plane[at] as number);
      sum += step * step;
      count++;
    }
  }
  const sigma = noise[channel] as number;
  return count === 0 ? 0 : Math.max(0, sum / count / (sigma * sigma) - 2);
}
