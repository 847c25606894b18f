/** How samples lie: rows from the top, channels interleaved. */
interface Layout {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: number;
}

/** Samples that are not used, and what stood there. */
export interface Masked {
  readonly at: Int32Array;
  readonly codes: Uint32Array;
}

/**
 * A copy of a frame's samples with those that must not be used (dead, hot) replaced by the mean of their good neighbours of the same
 * channel: their own value is in no mean then, and no pass needs to ask.
 * @param masked indices of `data`; those beyond it are passed over
 */
export function withoutMasked<T extends Uint8Array | Uint16Array | Uint32Array>(data: T, layout: Layout, masked: Int32Array): { readonly data: T; readonly masked: Masked } {
  const bad = new Set(masked);
  const at = masked.filter((place) => place >= 0 && place < data.length);
  const mended = data.slice() as T;
  for (const place of at) mended[place] = meanAround(data, layout, place, bad);
  return { data: mended, masked: { at, codes: Uint32Array.from(at, (place) => data[place] as number) } };
}

function meanAround(data: Uint8Array | Uint16Array | Uint32Array, { channels, widthPx, heightPx }: Layout, at: number, bad: ReadonlySet<number>): number {
  const channel = at % channels;
  const pixel = (at - channel) / channels;
  const col = pixel % widthPx;
  const row = (pixel - col) / widthPx;
  let sum = 0;
  let count = 0;
  for (let r = Math.max(0, row - 1); r <= Math.min(heightPx - 1, row + 1); r++) {
    for (let c = Math.max(0, col - 1); c <= Math.min(widthPx - 1, col + 1); c++) {
      const near = (r * widthPx + c) * channels + channel;
      if (bad.has(near)) continue;
      sum += data[near] as number;
      count++;
    }
  }
  return count === 0 ? (data[at] as number) : Math.round(sum / count);
}
