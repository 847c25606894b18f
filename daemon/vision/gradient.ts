import { varianceAt } from './noise.ts';
import type { Window } from './window.ts';

/** Highest level of {@link gradientLevels}. */
export const TOP_LEVEL = 255;
/** Levels per noise unit of gradient. */
export const LEVELS_PER_SIGMA = 4;
/** Variance of the difference of two 3x3 means two samples apart, in variances of one sample: 12/81, as one column is shared. */
const DIFFERENCE_VARIANCE = 12 / 81;

/**
 * How steeply the contrast changes at every sample of the component, all channels together, in noise units times four, at most 255.
 * Bare noise alone gives about 4 sqrt(2 channels).
 */
export function gradientLevels(window: Window): Uint8Array {
  const { width, height, inside, smooth, noise } = window;
  const levels = new Uint8Array(width * height);
  for (const at of inside) {
    const col = at % width;
    const left = col > 0 ? -1 : 0;
    const right = col < width - 1 ? 1 : 0;
    const up = at >= width ? -width : 0;
    const down = at < width * (height - 1) ? width : 0;
    let sum = 0;
    for (let c = 0; c < smooth.length; c++) {
      const plane = smooth[c] as Float32Array;
      const dx = (plane[at + right] as number) - (plane[at + left] as number);
      const dy = (plane[at + down] as number) - (plane[at + up] as number);
      sum += (dx * dx + dy * dy) / varianceAt(noise[c] as number, plane[at] as number);
    }
    levels[at] = Math.min(TOP_LEVEL, Math.floor(LEVELS_PER_SIGMA * Math.sqrt(sum / DIFFERENCE_VARIANCE)));
  }
  return levels;
}
