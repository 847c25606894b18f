import { addLogs } from './likelihood.ts';
import type { PackedSamples } from './likelihood.ts';

/** Density of strays that nothing is known of: even over contrasts from about -2 to 1 in each channel. */
export const STRAY_LOG_DENSITY_PER_CHANNEL = -Math.log(3);
/** Residue and films are not even: half of the strays are put where the samples lie, as widely as they do and by this contrast more. */
const STRAY_SPREAD = 0.05;
/** Shares of strays among the samples that are tried; the likeliest counts. A dirty chip without flakes has next to nothing else. */
const STRAY_SHARES = [0.05, 0.15, 0.3, 0.5, 0.7, 0.85, 0.95];

/**
 * Log density of every sample if it stood on no rung: half even, half a Gaussian with the mean and covariance of all samples. A ladder
 * has to explain its samples better than "they lie where samples lie" does; against an even density alone, any curve that runs
 * through a cloud of residue looks like evidence.
 */
export function strayLogs(samples: PackedSamples): Float64Array {
  const { count, channels, contrast } = samples;
  const even = Math.log(0.5) + STRAY_LOG_DENSITY_PER_CHANNEL * channels;
  const mean = Float64Array.from({ length: channels }, (_, c) => averageOf(count, (s) => contrast[s * channels + c] as number));
  const off = (s: number, c: number): number => (contrast[s * channels + c] as number) - (mean[c] as number);
  const root = choleskyRoot(channels, (a, b) => averageOf(count, (s) => off(s, a) * off(s, b)) + (a === b ? STRAY_SPREAD ** 2 : 0));
  const logDet = root.reduce((sum, row, i) => sum + 2 * Math.log(row[i] as number), 0);
  return Float64Array.from({ length: count }, (_, s) => {
    const chiSquare = squaredLength(root, (c) => off(s, c));
    return addLogs(even, Math.log(0.5) - (chiSquare + logDet + channels * Math.log(2 * Math.PI)) / 2);
  });
}

/** Log likelihood of samples that are each on a rung or a stray, under the share of strays that suits them best. */
export function mixedLog(rungs: Float64Array, strays: Float64Array): number {
  let best = -Infinity;
  for (const share of STRAY_SHARES) {
    const [onRung, off] = [Math.log(1 - share), Math.log(share)];
    let sum = 0;
    for (let i = 0; i < rungs.length; i++) sum += addLogs(onRung + (rungs[i] as number), off + (strays[i] as number));
    best = Math.max(best, sum);
  }
  return best;
}

function averageOf(count: number, value: (sample: number) => number): number {
  let sum = 0;
  for (let s = 0; s < count; s++) sum += value(s);
  return count === 0 ? 0 : sum / count;
}

/** Lower triangle L with L L' = the matrix (Cholesky), for a few channels. */
function choleskyRoot(size: number, at: (row: number, column: number) => number): readonly Float64Array[] {
  const root = Array.from({ length: size }, () => new Float64Array(size));
  for (let i = 0; i < size; i++) {
    const row = root[i] as Float64Array;
    for (let j = 0; j <= i; j++) {
      const other = root[j] as Float64Array;
      let rest = at(i, j);
      for (let k = 0; k < j; k++) rest -= (row[k] as number) * (other[k] as number);
      row[j] = i === j ? Math.sqrt(rest) : rest / (other[j] as number);
    }
  }
  return root;
}

/** Squared length of L^-1 v: v's distance in standard deviations. */
function squaredLength(root: readonly Float64Array[], value: (channel: number) => number): number {
  const solved: number[] = [];
  root.forEach((row, i) => {
    let rest = value(i);
    for (let k = 0; k < i; k++) rest -= (row[k] as number) * (solved[k] as number);
    solved.push(rest / (row[i] as number));
  });
  return solved.reduce((sum, v) => sum + v * v, 0);
}
