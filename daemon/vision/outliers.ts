import type { ContrastImage } from './contrast.ts';
import { varianceAt } from './noise.ts';

/** A sample this many times the noise off its surroundings, */
const OFF = 8;
/** whose neighbours are within so many times the noise of each other, or */
const QUIET = 4;
/** within this share of its own step: no optics make a picture of one sample. */
const SHARE = 0.2;
/** Of its eight neighbours so many may be off as well: two bad samples beside each other. */
const COMPANIONS = 1;
/** So many are named; a frame with more has other troubles. */
const NAMED_MOST = 4096;

/**
 * Takes single samples that no optics can have made (dead or hot ones, a ray of radiation) out of an image's planes: each gets the
 * median of its neighbours and counts as unsaturated. Changes the image. Returns their places as indices of interleaved samples,
 * ascending.
 */
export function repairOutliers(image: ContrastImage, noise: readonly number[]): Int32Array {
  const found: number[] = [];
  image.planes.forEach((plane, channel) => {
    for (const at of repairPlane(plane, image, noise[channel] as number)) {
      image.saturated[at] = 0;
      found.push(at * image.planes.length + channel);
    }
  });
  return Int32Array.from(found).sort().subarray(0, NAMED_MOST);
}

function repairPlane(plane: Float32Array, { widthPx, heightPx }: ContrastImage, noise: number): readonly number[] {
  const found: number[] = [];
  // A lone sample that is OFF times the noise off shows as twice that in its second difference along the row; half of it is noise.
  const least = OFF * noise;
  const around = new Float32Array(8);
  for (let row = 1; row < heightPx - 1; row++) {
    let left = plane[row * widthPx] as number;
    let here = plane[row * widthPx + 1] as number;
    for (let at = row * widthPx + 1, end = (row + 1) * widthPx - 1; at < end; at++) {
      const right = plane[at + 1] as number;
      const bend = here + here - left - right;
      left = here;
      here = right;
      if (bend < least && bend > -least) continue;
      const middle = middleAround(plane, at, widthPx, noise, around);
      if (middle === undefined) continue;
      plane[at] = middle;
      left = middle;
      found.push(at);
    }
  }
  return found;
}

/** The median of a sample's neighbours when the sample stands alone among them; undefined when it belongs to what is there. */
function middleAround(plane: Float32Array, at: number, width: number, noise: number, around: Float32Array): number | undefined {
  for (let k = 0; k < 8; k++) {
    const place = k < 4 ? k : k + 1;
    around[k] = plane[at + (place % 3) - 1 + (Math.floor(place / 3) - 1) * width] as number;
  }
  around.sort();
  const middle = ((around[3] as number) + (around[4] as number)) / 2;
  const off = Math.abs((plane[at] as number) - middle);
  const sigma = Math.sqrt(varianceAt(noise, middle));
  if (off < OFF * sigma) return undefined;
  const reach = Math.max(QUIET * sigma, SHARE * off);
  let strangers = 0;
  for (let k = 0; k < 8; k++) if (Math.abs((around[k] as number) - middle) > reach) strangers++;
  return strangers > COMPANIONS ? undefined : middle;
}
