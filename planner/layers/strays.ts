import { addLogs } from './likelihood.ts';
import type { PackedSamples } from './likelihood.ts';
import type { Strays } from './types.ts';

/** Density of strays that nothing is known of: even over contrasts from about -2 to 1 in each channel. */
export const STRAY_LOG_DENSITY_PER_CHANNEL = -Math.log(3);
/** Residue and films are not even: half of the strays are put where the samples lie, as widely as they do and by this contrast more. */
const STRAY_SPREAD = 0.05;
/** Shares of strays among the samples that are tried; the likeliest counts. A dirty chip without flakes has next to nothing else. */
const STRAY_SHARES = [0.05, 0.15, 0.3, 0.5, 0.7, 0.85, 0.95];

/** Fewer samples than this have no spread to speak of. */
export const CLOUD_LEAST = 12;
/** Before enough samples were seen. */
const UNKNOWN_SHARE = 0.3;

/** Where strays would lie, from all samples: a Gaussian of their mean and covariance, a little wider. */
export function strayCloud(samples: PackedSamples): Strays {
  const { count, channels, contrast } = samples;
  if (count < CLOUD_LEAST) return { share: UNKNOWN_SHARE, mean: [], root: [] };
  const mean = Array.from({ length: channels }, (_, c) => averageOf(count, (s) => contrast[s * channels + c] as number));
  const off = (s: number, c: number): number => (contrast[s * channels + c] as number) - (mean[c] as number);
  const root = choleskyRoot(channels, (a, b) => averageOf(count, (s) => off(s, a) * off(s, b)) + (a === b ? STRAY_SPREAD ** 2 : 0));
  return { share: UNKNOWN_SHARE, mean, root };
}

/**
 * Log density of a contrast if it stood on no rung: half even, half the cloud. A ladder has to explain its samples better than "they
 * lie where samples lie" does; against an even density alone, any curve that runs through a cloud of residue looks like evidence.
 */
export function strayLog({ mean, root }: Strays, contrast: ArrayLike<number>): number {
  const channels = contrast.length;
  const even = STRAY_LOG_DENSITY_PER_CHANNEL * channels;
  if (root.length === 0) return even;
  const logDet = root.reduce((sum, row, i) => sum + 2 * Math.log(row[i] as number), 0);
  const chiSquare = squaredLength(root, (c) => (contrast[c] as number) - (mean[c] as number));
  return Math.log(0.5) + addLogs(even, -(chiSquare + logDet + channels * Math.log(2 * Math.PI)) / 2);
}

/** The same for every packed sample. */
export function strayLogs(strays: Strays, { count, channels, contrast }: PackedSamples): Float64Array {
  return Float64Array.from({ length: count }, (_, s) => strayLog(strays, contrast.subarray(s * channels, (s + 1) * channels)));
}

/** So many factors, each above the least share, are multiplied before their logarithm is taken: far from the smallest number there is. */
const FACTORS = 100;

/**
 * The share of strays that suits samples best, each being on a rung or a stray, and their log likelihood under it. The larger of the two
 * densities is taken out of each sample, so that one exponential does for all shares and few logarithms are needed.
 */
export function mixed(rungs: Float64Array, strays: Float64Array): { readonly share: number; readonly log: number } {
  const smaller = new Float64Array(rungs.length);
  let base = 0;
  for (let i = 0; i < rungs.length; i++) {
    const [rung, stray] = [rungs[i] as number, strays[i] as number];
    const ratio = Math.max(Number.MIN_VALUE, Math.exp(-Math.abs(rung - stray)));
    smaller[i] = rung > stray ? ratio : -ratio;
    base += Math.max(rung, stray);
  }
  let best = { share: UNKNOWN_SHARE, log: -Infinity };
  for (const share of STRAY_SHARES) {
    const log = base + factorsLog(smaller, share);
    if (log > best.log) best = { share, log };
  }
  return best;
}

/** Logarithm of the product over samples of both densities against the larger; above 0 stands the stray's where that is the smaller, below 0 the rung's. */
function factorsLog(smaller: Float64Array, share: number): number {
  let log = 0;
  let product = 1;
  for (let i = 0; i < smaller.length; i++) {
    const ratio = smaller[i] as number;
    product *= ratio > 0 ? 1 - share + share * ratio : share - (1 - share) * ratio;
    if (i % FACTORS !== FACTORS - 1) continue;
    log += Math.log(product);
    product = 1;
  }
  return log + Math.log(product);
}

function averageOf(count: number, value: (sample: number) => number): number {
  let sum = 0;
  for (let s = 0; s < count; s++) sum += value(s);
  return count === 0 ? 0 : sum / count;
}

/** Lower triangle L with L L' = the matrix (Cholesky), for a few channels. */
function choleskyRoot(size: number, at: (row: number, column: number) => number): readonly (readonly number[])[] {
  const root = Array.from({ length: size }, () => Array.from({ length: size }, () => 0));
  for (let i = 0; i < size; i++) {
    const row = root[i] as number[];
    for (let j = 0; j <= i; j++) {
      const other = root[j] as number[];
      let rest = at(i, j);
      for (let k = 0; k < j; k++) rest -= (row[k] as number) * (other[k] as number);
      row[j] = i === j ? Math.sqrt(rest) : rest / (other[j] as number);
    }
  }
  return root;
}

/** Squared length of L^-1 v: v's distance in standard deviations. */
function squaredLength(root: readonly (readonly number[])[], value: (channel: number) => number): number {
  const solved: number[] = [];
  root.forEach((row, i) => {
    let rest = value(i);
    for (let k = 0; k < i; k++) rest -= (row[k] as number) * (solved[k] as number);
    solved.push(rest / (row[i] as number));
  });
  return solved.reduce((sum, v) => sum + v * v, 0);
}
