import type { CameraFrame } from '../../drivers/interfaces/index.ts';

/** So many samples at one greatest value, */
const PLATEAU_LEAST = 64;
/** and so many times as many as at the next one below, are a camera's end and no picture's: noise always leaves a tail. */
const PLATEAU_RATIO = 10;

/**
 * The sample from which on a camera is saturated: the full scale where any sample reaches it. Cameras of 10 to 14 bits are stored in 16
 * without a word about it, and some end a little below their full scale; then many samples lie at exactly one greatest value, and that
 * is the end. Frames of 8 bits are taken at their word: their steps are too coarse to tell.
 */
export function fullFrom(data: Uint8Array | Uint16Array, fullScale: number): number {
  if (data instanceof Uint8Array) return fullScale;
  let largest = 0;
  for (let i = 0; i < data.length; i++) if ((data[i] as number) > largest) largest = data[i] as number;
  if (largest >= fullScale) return fullScale;
  let [at, next, atNext] = [0, -1, 0];
  for (let i = 0; i < data.length; i++) {
    const sample = data[i] as number;
    if (sample === largest) at++;
    else if (sample > next) [next, atNext] = [sample, 1];
    else if (sample === next) atNext++;
  }
  return next >= 0 && at >= PLATEAU_LEAST && at >= PLATEAU_RATIO * atNext ? largest : fullScale;
}

/** Pixels of a frame with a sample at the camera's full scale. */
export function saturatedPixels({ data, bits, pixelFormat }: CameraFrame): number {
  const from = fullFrom(data, 2 ** bits - 1);
  const step = pixelFormat === 'rgb8' || pixelFormat === 'rgb16' ? 3 : 1;
  let count = 0;
  for (let at = 0; at < data.length; at += step) {
    for (let i = at; i < at + step; i++) {
      if ((data[i] as number) < from) continue;
      count++;
      break;
    }
  }
  return count;
}
