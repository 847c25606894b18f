import type { BayerPattern } from '../interfaces/index.ts';
import type { DecodedImage } from './decodeImage.ts';

/** What a set says of its images beyond what their files do. */
export interface StoredAs {
  /** Colours of the mosaic's upper left 2x2 pixels, row by row: the images are grey and hold a colour camera's raw numbers. */
  readonly bayer?: 'RGGB' | 'GRBG' | 'GBRG' | 'BGGR' | undefined;
  /** Significant bits of a sample. */
  readonly bitDepth?: number | undefined;
}

const PATTERNS = { RGGB: 'RG', GRBG: 'GR', GBRG: 'GB', BGGR: 'BG' } as const satisfies Record<string, BayerPattern>;

/** An image as the camera gave it, from the image as its file holds it. Throws an Error that says what does not fit. */
export function asStored(image: DecodedImage, { bayer, bitDepth }: StoredAs): DecodedImage {
  const deep = bitDepth === undefined ? image : inItsOwnBits(image, bitDepth);
  if (bayer === undefined) return deep;
  if (deep.pixelFormat !== 'mono8' && deep.pixelFormat !== 'mono16') throw new Error(`a colour image in a set of ${bayer} mosaics; grey wanted`);
  return { ...deep, pixelFormat: `bayer${PATTERNS[bayer]}${deep.pixelFormat === 'mono8' ? 8 : 16}` };
}

/**
 * Fewer than 16 bits lie in the low bits of a 16-bit file, or in the high ones with zeros below; all samples of an image then end in
 * zeros, which chance does not do.
 */
function inItsOwnBits(image: DecodedImage, bits: number): DecodedImage {
  const { data } = image;
  if (data instanceof Uint8Array) {
    if (bits !== 8) throw new Error(`samples of 8 bits in a set of ${bits} bits`);
    return image;
  }
  let all = 0;
  let largest = 0;
  for (const sample of data) {
    all |= sample;
    if (sample > largest) largest = sample;
  }
  const spare = 16 - bits;
  if ((all & (2 ** spare - 1)) === 0) return { ...image, bits, data: spare === 0 ? data : data.map((sample) => sample >> spare) };
  if (largest >= 2 ** bits) throw new Error(`a sample of ${largest} in a set of ${bits} bits`);
  return { ...image, bits };
}
