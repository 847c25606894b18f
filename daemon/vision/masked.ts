import type { Samples } from './samples.ts';

/**
 * Samples with those that must not be used (dead, hot) replaced by the mean of their good neighbours of the same channel: their own
 * value is in no mean then, and no pass needs to ask. The frame itself is left as it is.
 * @param masked indices of `samples.data`
 */
export function withoutMasked(samples: Samples, masked: Int32Array): Samples {
  const bad = new Set(masked);
  const data = samples.data.slice();
  for (const at of masked) if (at >= 0 && at < data.length) data[at] = meanAround(samples, at, bad);
  return { ...samples, data };
}

function meanAround({ data, channels, widthPx, heightPx }: Samples, at: number, bad: ReadonlySet<number>): number {
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
