import { varianceAt } from './noise.ts';
import type { Division, Region } from './regions.ts';
import { median } from './statistics.ts';
import type { Window } from './window.ts';

/** Calls `visit` for every sample of a region, in reading order. */
export function forEachSample(window: Window, division: Division, region: Region, visit: (at: number, col: number, row: number) => void): void {
  const { box } = region;
  for (let row = box.rowFrom; row < box.rowEnd; row++) {
    for (let col = box.colFrom; col < box.colEnd; col++) {
      const at = row * window.width + col;
      if (division.labels[at] === region.label) visit(at, col, row);
    }
  }
}

/** Root mean square spread of a region's inner samples over what noise explains; 1 is even. */
export function unevenness(window: Window, division: Division, region: Region): number {
  return spreadOf(window, coreSamples(window, division, region), region.mean);
}

/** What a region's inner samples say of it once what lies on it is told apart from it. */
export interface Evenness {
  /** Spread of the samples that belong to the even part over what noise explains; of all of them where there is no even part. */
  readonly unevenness: number;
  /** Contrast of the even part. */
  readonly mean: readonly number[];
  /** Samples that the mean is of. */
  readonly count: number;
  /** Share of inner samples that are something else: bubbles, dust, a scratch. */
  readonly blemishedShare: number;
}

/** A terrace may have this much on it and still be one terrace. */
const BLEMISHED_MOST = 0.3;
/** What is left without the blemishes of a terrace is even; without the ends of a slope it is a slope still. */
const SLOPING = 1.3;
/** Of large regions, so many samples say where the middle is. */
const MEDIAN_SAMPLES = 1500;

/**
 * Tells a region's even part from the bubbles and specks on it: samples near the median contrast in all channels together (chi-square
 * within five of its own standard deviations of what noise gives). Where too much is something else, or the rest is still uneven, the
 * region is judged whole.
 */
export function evennessOf(window: Window, division: Division, region: Region): Evenness {
  const core = coreSamples(window, division, region);
  const whole = { unevenness: spreadOf(window, core, region.mean), mean: region.mean, count: core.length, blemishedShare: 0 };
  const channels = window.planes.length;
  const middle = medianOf(window, core);
  const limit = channels + 5 * Math.sqrt(2 * channels);
  const even = core.filter((at) => chiSquare(window, at, middle) <= limit);
  const blemishedShare = 1 - even.length / Math.max(1, core.length);
  if (even.length <= channels || blemishedShare > BLEMISHED_MOST) return { ...whole, blemishedShare: whole.unevenness > 1.5 ? blemishedShare : 0 };
  const mean = meanOf(window, even);
  const rest = spreadOf(window, even, mean);
  if (rest > SLOPING && blemishedShare > 0) return { ...whole, blemishedShare: 0 };
  return { unevenness: rest, mean, count: even.length, blemishedShare };
}

function coreSamples(window: Window, division: Division, region: Region): Int32Array {
  const core = new Int32Array(region.count);
  let count = 0;
  forEachSample(window, division, region, (at) => {
    if ((division.depth[at] as number) >= region.coreDepth) core[count++] = at;
  });
  return core.subarray(0, count);
}

function chiSquare(window: Window, at: number, mean: readonly number[]): number {
  let sum = 0;
  for (let c = 0; c < mean.length; c++) {
    const off = ((window.planes[c] as Float32Array)[at] as number) - (mean[c] as number);
    sum += (off * off) / varianceAt(window.noise[c] as number, mean[c] as number);
  }
  return sum;
}

function spreadOf(window: Window, samples: Int32Array, mean: readonly number[]): number {
  const channels = window.planes.length;
  if (samples.length <= 1) return 1;
  let sum = 0;
  for (const at of samples) sum += chiSquare(window, at, mean);
  return Math.sqrt(sum / (channels * (samples.length - 1)));
}

function medianOf(window: Window, samples: Int32Array): readonly number[] {
  const every = Math.max(1, Math.floor(samples.length / MEDIAN_SAMPLES));
  const some = samples.filter((_, i) => i % every === 0);
  return window.planes.map((plane) => median(Float32Array.from(some, (at) => plane[at] as number)));
}

function meanOf(window: Window, samples: Int32Array): readonly number[] {
  return window.planes.map((plane) => {
    let sum = 0;
    for (const at of samples) sum += plane[at] as number;
    return sum / samples.length;
  });
}
