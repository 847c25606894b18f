import sharp from 'sharp';
import type { PixelFormat } from '../interfaces/index.ts';

/** Pixels of one stored image: rows from the top, samples interleaved. */
export interface DecodedImage {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly pixelFormat: PixelFormat;
  readonly bits: number;
  readonly data: Uint8Array | Uint16Array;
}

/** The most pixels that an image may have: a broken header must not ask for all memory. */
const MOST_PIXELS = 268_000_000;

function formatOf(channels: number, isDeep: boolean): PixelFormat | undefined {
  if (channels === 1) return isDeep ? 'mono16' : 'mono8';
  if (channels === 3) return isDeep ? 'rgb16' : 'rgb8';
  return undefined;
}

/**
 * Decodes a PNG, TIFF or JPEG (the bytes of its file) to 8 or 16 bit grey or RGB. Numbers are handed on as stored: no colour
 * profile is applied, a transparency channel is dropped. Rejects with an Error that says what is wrong with the image.
 */
export async function decodeImage(bytes: Uint8Array): Promise<DecodedImage> {
  const image = sharp(bytes, { failOn: 'warning', limitInputPixels: MOST_PIXELS, ignoreIcc: true });
  const { depth, channels, hasAlpha, space } = await image.metadata();
  const isDeep = depth === 'ushort';
  if (!isDeep && depth !== 'uchar') throw new Error(`samples of type ${depth}; 8 or 16 bit wanted`);
  const isGrey = channels - (hasAlpha ? 1 : 0) === 1 && space !== 'srgb';
  const { data, info } = await image
    .removeAlpha()
    .toColourspace(isGrey ? (isDeep ? 'grey16' : 'b-w') : isDeep ? 'rgb16' : 'srgb')
    .raw({ depth: isDeep ? 'ushort' : 'uchar' })
    .toBuffer({ resolveWithObject: true });
  const pixelFormat = formatOf(info.channels, isDeep);
  if (!pixelFormat) throw new Error(`${info.channels} channels; 1 or 3 wanted`);
  // A copy of its own: a small buffer of Node shares its memory with others, at any offset.
  const own = new Uint8Array(data);
  return { widthPx: info.width, heightPx: info.height, pixelFormat, bits: isDeep ? 16 : 8, data: isDeep ? new Uint16Array(own.buffer) : own };
}
