import type { ContrastImage } from './contrast.ts';
import { varianceAt } from './noise.ts';
import type { Samples } from './samples.ts';

/** A sample this many times the noise off its surroundings, */
const OFF = 8;
/** (looked at where it is this many times the noise off the sample beside it, of which noise may have made up two,) */
const SUSPECT = 6;
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

/**
 * Those of the samples which were left out that do stand out: one that is well again does not. Their own light is held against that of
 * their neighbours, in the noise of the bare oxide.
 */
export function stillOff({ masked, data, channels }: Samples, table: Float32Array, noise: readonly number[]): Int32Array {
  if (!masked) return new Int32Array(0);
  return masked.at.filter((at, i) => {
    const usual = table[data[at] as number] as number;
    const own = table[masked.codes[i] as number] as number;
    return Math.abs(own - usual) > OFF * (noise[at % channels] as number) * usual;
  });
}

function repairPlane(plane: Float32Array, { widthPx, heightPx }: ContrastImage, noise: number): readonly number[] {
  const found: number[] = [];
  const least = SUSPECT * noise;
  const around = new Float32Array(8);
  const repair = (at: number): void => {
    const col = at % widthPx;
    const middle = col > 0 && col < widthPx - 1 ? middleAround(plane, at, widthPx, noise, around) : undefined;
    if (middle === undefined) return;
    plane[at] = middle;
    found.push(at);
  };
  for (let row = 1; row < heightPx - 1; row++) {
    // Two by two: a sample that stands alone differs from the one beside it.
    for (let at = row * widthPx, end = at + widthPx - 1; at < end; at += 2) {
      const step = (plane[at] as number) - (plane[at + 1] as number);
      if (step < least && step > -least) continue;
      repair(at);
      repair(at + 1);
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
