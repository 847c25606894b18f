import sharp from 'sharp';
import type { CameraFrame, Region } from '../../drivers/interfaces/index.ts';
import { NightjarError } from '../errors/index.ts';
import type { Picture } from './display.ts';

/** WebP at its fastest: 4 to 6 ms for a map picture on the bench, and half the size of a JPEG. */
const mapPictureFormat = { quality: 80, effort: 0 } as const;

/** Squares of how many pixels to bring together so that a frame comes nearest to this width. */
export function binFor(widthPx: number, maxWidthPx: number): number {
  return Math.max(1, Math.round(widthPx / maxWidthPx));
}

/** The lossy picture of a tile for the map, no wider than `maxWidthPx`: WebP. Pixels are sRGB, interleaved RGB. */
export async function encodeMapPicture(rgb: Uint8Array, widthPx: number, heightPx: number, maxWidthPx: number): Promise<Uint8Array> {
  const raw = { width: widthPx, height: heightPx, channels: 3 } as const;
  const picture = sharp(rgb, { raw });
  const small = widthPx > maxWidthPx ? picture.resize({ width: maxWidthPx }) : picture;
  return small.webp(mapPictureFormat).toBuffer();
}

/** A region moved and cut so that it lies in the picture. Throws `internal` when nothing of it does. */
export function regionWithin(region: Region, widthPx: number, heightPx: number): Region {
  const colPx = Math.max(0, Math.floor(region.colPx));
  const rowPx = Math.max(0, Math.floor(region.rowPx));
  const rightPx = Math.min(widthPx, Math.ceil(region.colPx + region.widthPx));
  const lowerPx = Math.min(heightPx, Math.ceil(region.rowPx + region.heightPx));
  if (rightPx <= colPx || lowerPx <= rowPx) throw new NightjarError('internal', { reason: 'a crop lies outside its frame' });
  return { colPx, rowPx, widthPx: rightPx - colPx, heightPx: lowerPx - rowPx };
}

function cut<T extends Uint8Array | Uint16Array>(from: T, into: T, rowLength: number, channels: number, region: Region): T {
  const length = region.widthPx * channels;
  for (let row = 0; row < region.heightPx; row++) {
    const start = (region.rowPx + row) * rowLength + region.colPx * channels;
    into.set(from.subarray(start, start + length), row * length);
  }
  return into;
}

/** Lossless crop of a picture for people: PNG. The region must lie in the picture (see {@link regionWithin}). */
export async function encodePictureCrop({ rgb, widthPx }: Picture, region: Region): Promise<Uint8Array> {
  const pixels = cut(rgb, new Uint8Array(region.widthPx * region.heightPx * 3), widthPx * 3, 3, region);
  return sharp(pixels, { raw: { width: region.widthPx, height: region.heightPx, channels: 3 } }).png({ compressionLevel: 6 }).toBuffer();
}

/**
 * Lossless crop of the frame as the camera gave it: PNG of 8 or 16 bits whose samples are the camera's own numbers, grey for mono
 * and mosaic. It is the record, not a picture for people: for those see {@link encodePictureCrop}. The region must lie in the frame.
 */
export async function encodeCrop(frame: CameraFrame, region: Region): Promise<Uint8Array> {
  const channels = frame.pixelFormat === 'rgb8' || frame.pixelFormat === 'rgb16' ? 3 : 1;
  const length = region.widthPx * region.heightPx * channels;
  const { data } = frame;
  const deep = data instanceof Uint16Array;
  const rowLength = frame.widthPx * channels;
  const pixels = deep ? cut(data, new Uint16Array(length), rowLength, channels, region) : cut(data, new Uint8Array(length), rowLength, channels, region);
  const space = channels === 3 ? (deep ? 'rgb16' : 'srgb') : deep ? 'grey16' : 'b-w';
  return sharp(pixels, { raw: { width: region.widthPx, height: region.heightPx, channels } }).toColourspace(space).png({ compressionLevel: 6 }).toBuffer();
}
