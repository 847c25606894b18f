import type { ContrastSample, Rungs } from './types.ts';
import { curveShareAt } from './tuning.ts';
import type { Trust } from './tuning.ts';

/** How one sample lies to one rung. */
export interface Match {
  /** Squared distance in standard errors, the oxide under the flake having been left free within its trust. */
  readonly chiSquare: number;
  /** Logarithm of the density. */
  readonly logDensity: number;
}

/**
 * Density of a measured contrast if the flake had the thickness of a rung: Gaussian errors of the measurement and of the curve, and
 * one error shared by the channels for the oxide under the flake (a rank-one covariance, by the Sherman-Morrison formula).
 */
export function matchRung(sample: ContrastSample, rungs: Rungs, rung: number, trust: Trust): Match {
  const { channels, contrast, perOxideNm } = rungs;
  const share = curveShareAt(trust, rungs.layers[rung] as number);
  let direct = 0;
  let cross = 0;
  let slope = 0;
  let logDet = 0;
  for (let c = 0; c < channels; c++) {
    const model = contrast[rung * channels + c] as number;
    const error = sample.contrastError[c] as number;
    const variance = error * error + (share * model) ** 2 + trust.curveFloor ** 2 + (rungs.between[rung * channels + c] as number);
    const off = (sample.contrast[c] as number) - model;
    const move = (perOxideNm[rung * channels + c] as number) * trust.localOxideNm;
    direct += (off * off) / variance;
    cross += (off * move) / variance;
    slope += (move * move) / variance;
    logDet += Math.log(variance);
  }
  const chiSquare = direct - (cross * cross) / (1 + slope);
  const logDensity = -(chiSquare + logDet + Math.log(1 + slope) + channels * Math.log(2 * Math.PI)) / 2;
  return { chiSquare, logDensity };
}

/** Samples packed for the fit's inner loop: value and variance, sample * channels + channel. */
export interface PackedSamples {
  readonly count: number;
  readonly channels: number;
  readonly contrast: Float64Array;
  readonly variance: Float64Array;
}

export function packSamples(samples: readonly ContrastSample[], channels: number): PackedSamples {
  const contrast = new Float64Array(samples.length * channels);
  const variance = new Float64Array(samples.length * channels);
  samples.forEach((sample, i) => {
    for (let c = 0; c < channels; c++) {
      contrast[i * channels + c] = sample.contrast[c] as number;
      variance[i * channels + c] = (sample.contrastError[c] as number) ** 2;
    }
  });
  return { count: samples.length, channels, contrast, variance };
}

/** Rungs this many squared standard errors off in one channel alone cannot matter beside the strays; nearer ones are far from underflow. */
const HOPELESS = 100;

/**
 * Log density of every packed sample over the rungs: what {@link matchRung} gives, without its objects.
 * @param logWeights logarithm of each rung's share
 */
export function rungLogs(samples: PackedSamples, rungs: Rungs, logWeights: Float64Array, trust: Trust): Float64Array {
  const { channels } = samples;
  const { contrast, perOxideNm, between, layers } = rungs;
  const constant = (channels * Math.log(2 * Math.PI)) / 2;
  const curveFloor = trust.curveFloor * trust.curveFloor;
  const weights = logWeights.map(Math.exp);
  // What a rung has of its own is the same for every sample.
  const floors = contrast.map((model, at) => {
    const floor = curveShareAt(trust, layers[Math.floor(at / channels)] as number) * model;
    return floor * floor;
  });
  const moves = perOxideNm.map((each) => each * trust.localOxideNm);
  const logs = new Float64Array(samples.count);
  for (let s = 0; s < samples.count; s++) {
    let density = 0;
    for (let rung = 0; rung < weights.length; rung++) {
      let direct = 0;
      let cross = 0;
      let slope = 0;
      let product = 1;
      for (let c = 0; c < channels; c++) {
        const at = rung * channels + c;
        const variance = (samples.variance[s * channels + c] as number) + (floors[at] as number) + curveFloor + (between[at] as number);
        const off = (samples.contrast[s * channels + c] as number) - (contrast[at] as number);
        const move = moves[at] as number;
        if (off * off > HOPELESS * (variance + move * move)) {
          product = 0;
          break;
        }
        direct += (off * off) / variance;
        cross += (off * move) / variance;
        slope += (move * move) / variance;
        product *= variance;
      }
      if (product === 0) continue;
      const chiSquare = direct - (cross * cross) / (1 + slope);
      density += ((weights[rung] as number) * Math.exp(-chiSquare / 2)) / Math.sqrt(product * (1 + slope));
    }
    logs[s] = Math.log(density) - constant;
  }
  return logs;
}

/** Thick flakes are as common at one thickness as at another, from about this many layers on. */
const EVEN_FROM = 8;

/**
 * Thinner terraces are the commoner, though not by much: weight of a layer number before anything is seen, not normalised. Every flake
 * brings it in once more, so that a strong slope would read all of a chip's few flakes too thin.
 */
export function rungPrior(layers: number): number {
  return 1 / (3 + Math.min(Math.abs(layers), EVEN_FROM));
}

/** log(exp(a) + exp(b)) without overflow. */
export function addLogs(a: number, b: number): number {
  const [high, low] = a > b ? [a, b] : [b, a];
  return low === -Infinity ? high : high + Math.log1p(Math.exp(low - high));
}
