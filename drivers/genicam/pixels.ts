import { samplesPerPixel } from '../frames/cropFrame.ts';
import { DriverError, type Region } from '../interfaces/index.ts';
import type { WireFormat } from './formats.ts';

/** How one picture lies in the library's memory. */
export interface BufferLayout {
  readonly widthPx: number;
  readonly heightPx: number;
  /** Bytes behind each row that belong to no pixel. */
  readonly rowPaddingBytes: number;
  readonly format: WireFormat;
}

/** Two samples of twelve bits in three bytes. */
const PAIR_BYTES = 3;

/** Bytes from the beginning of one row to that of the next. Throws `badFrame` for packed rows that end inside a byte. */
export function rowBytes({ widthPx, rowPaddingBytes, format }: BufferLayout): number {
  const bits = widthPx * ((format.code >>> 16) & 0xff);
  if (bits % 8 !== 0) throw new DriverError('badFrame', { reason: 'rows end inside a byte', widthPx, format: format.name });
  return bits / 8 + rowPaddingBytes;
}

/** 12p: the first sample's low eight bits, then its high four (low half) beside the second's low four (high half), then the rest. */
function first12p(low: number, shared: number): number {
  return low | ((shared & 0x0f) << 8);
}
function second12p(shared: number, high: number): number {
  return (shared >> 4) | (high << 4);
}

/** 12Packed (of GigE Vision): each sample's high eight bits in a byte of its own, the low four of both in the byte between. */
function first12Packed(high: number, shared: number): number {
  return (high << 4) | (shared & 0x0f);
}
function second12Packed(shared: number, high: number): number {
  return (high << 4) | (shared >> 4);
}

/** Spreads packed samples `from` to `from + target.length` of one row over 16-bit words. */
export function unpackRow(row: Uint8Array, from: number, packing: '12p' | '12Packed', target: Uint16Array): void {
  const [first, second] = packing === '12p' ? [first12p, second12p] : [first12Packed, second12Packed];
  for (let index = 0; index < target.length; index++) {
    const sample = from + index;
    const at = (sample >> 1) * PAIR_BYTES;
    const shared = row[at + 1] ?? 0;
    target[index] = sample % 2 === 0 ? first(row[at] ?? 0, shared) : second(shared, row[at + 2] ?? 0);
  }
}

function copyPlain(source: Uint8Array, layout: BufferLayout, part: Region, target: Uint8Array): void {
  const stride = rowBytes(layout);
  const pixelBytes = ((layout.format.code >>> 16) & 0xff) / 8;
  const partBytes = part.widthPx * pixelBytes;
  if (partBytes === stride) {
    target.set(source.subarray(part.rowPx * stride, (part.rowPx + part.heightPx) * stride));
    return;
  }
  for (let row = 0; row < part.heightPx; row++) {
    const from = (part.rowPx + row) * stride + part.colPx * pixelBytes;
    target.set(source.subarray(from, from + partBytes), row * partBytes);
  }
}

function copyPacked(source: Uint8Array, layout: BufferLayout, part: Region, packing: '12p' | '12Packed', target: Uint16Array): void {
  const stride = rowBytes(layout);
  for (let row = 0; row < part.heightPx; row++) {
    const bytes = source.subarray((part.rowPx + row) * stride, (part.rowPx + row + 1) * stride);
    unpackRow(bytes, part.colPx, packing, target.subarray(row * part.widthPx, (row + 1) * part.widthPx));
  }
}

/** What a frame of this size takes in memory. */
export function frameBytes({ pixelFormat, bits }: WireFormat, { widthPx, heightPx }: Pick<Region, 'widthPx' | 'heightPx'>): number {
  return widthPx * heightPx * samplesPerPixel(pixelFormat) * (bits > 8 ? 2 : 1);
}

/**
 * The one copy of a picture: from the library's memory into shared memory of its own, which any thread can read and nobody else writes.
 * `part` is cut out on the way, in pixels of the buffer. Words of 16 bits keep the camera's order, lowest byte first, as on every
 * computer that Node runs on. `memory` gives as many bytes as it is asked for. Throws `badFrame` when the buffer is too short for what it
 * says it holds.
 */
export function copyPixels(source: Uint8Array, layout: BufferLayout, part: Region, memory: (bytes: number) => SharedArrayBuffer): Uint8Array | Uint16Array {
  const neededBytes = rowBytes(layout) * layout.heightPx - layout.rowPaddingBytes;
  if (source.length < neededBytes) throw new DriverError('badFrame', { reason: 'too few bytes', seenBytes: source.length, neededBytes });
  const { packing, bits } = layout.format;
  const shared = memory(frameBytes(layout.format, part));
  const words = bits > 8 ? new Uint16Array(shared) : undefined;
  if (packing === 'plain') copyPlain(source, layout, part, new Uint8Array(shared));
  else if (words) copyPacked(source, layout, part, packing, words);
  return words ?? new Uint8Array(shared);
}
