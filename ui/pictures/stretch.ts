/**
 * Contrast drawn out about the substrate. A monolayer differs from bare oxide by a few per cent and is easily missed; drawn out by
 * one fixed factor it is plain, and two pictures remain comparable, since nothing but the substrate's own level goes in:
 * R' = R0 + k (R - R0) in linear light, so that the contrast C = (R0 - R)/R0 becomes k C.
 */

/** Drawn out by so much unless a person takes it off. */
export const DRAWN_OUT = 2.4;

/** A byte of a picture as linear light, 0 to 1 (IEC 61966-2-1). */
export function toLinear(byte: number): number {
  const v = byte / 255;
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
}

/** Linear light as a byte of a picture; the inverse of {@link toLinear}, held within 0 to 255. */
export function toByte(linear: number): number {
  const v = Math.min(1, Math.max(0, linear));
  return Math.round(255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055));
}

/** Pixels as a canvas gives them: RGBA, rows from the top. */
export interface Pixels {
  readonly width: number;
  readonly height: number;
  readonly data: Uint8ClampedArray;
}

const CHANNELS = 3;

function median(histogram: Uint32Array, count: number): number {
  let below = 0;
  for (let level = 0; level < histogram.length; level += 1) {
    below += histogram[level] as number;
    if (below * 2 >= count) return level;
  }
  return 0;
}

/**
 * The substrate's level per channel as a byte: the median of the pixels for which `isFlake(column, row)` is false; of all pixels
 * when that leaves fewer than 1 in 50. A median is not moved by dust or by a neighbour's corner.
 */
export function substrateLevels(pixels: Pixels, isFlake: (column: number, row: number) => boolean): readonly [number, number, number] {
  const { width, height, data } = pixels;
  const step = Math.max(1, Math.floor(Math.sqrt((width * height) / 20_000)));
  const outside = Array.from({ length: CHANNELS }, () => new Uint32Array(256));
  const everywhere = Array.from({ length: CHANNELS }, () => new Uint32Array(256));
  let outsideCount = 0;
  let count = 0;
  for (let row = 0; row < height; row += step) {
    for (let column = 0; column < width; column += step) {
      const bare = !isFlake(column, row);
      count += 1;
      if (bare) outsideCount += 1;
      for (let c = 0; c < CHANNELS; c += 1) {
        const level = data[(row * width + column) * 4 + c] as number;
        (everywhere[c] as Uint32Array)[level] = ((everywhere[c] as Uint32Array)[level] as number) + 1;
        if (bare) (outside[c] as Uint32Array)[level] = ((outside[c] as Uint32Array)[level] as number) + 1;
      }
    }
  }
  const [histograms, n] = outsideCount * 50 >= count ? [outside, outsideCount] : [everywhere, count];
  const level = (c: number): number => median(histograms[c] as Uint32Array, n);
  return [level(0), level(1), level(2)];
}

/** For each byte of one channel what it becomes, with the substrate at `level` (a byte) and contrast `factor` times itself. */
export function stretchTable(level: number, factor: number): Uint8ClampedArray {
  const substrate = toLinear(level);
  return Uint8ClampedArray.from({ length: 256 }, (_, byte) => toByte(substrate + factor * (toLinear(byte) - substrate)));
}

/** Draws a picture's contrast out, in place. */
export function drawOut(pixels: Pixels, levels: readonly [number, number, number], factor: number): void {
  const tables = levels.map((level) => stretchTable(level, factor));
  const { data } = pixels;
  for (let i = 0; i < data.length; i += 4) {
    for (let c = 0; c < CHANNELS; c += 1) data[i + c] = (tables[c] as Uint8ClampedArray)[data[i + c] as number] as number;
  }
}
