import type { ContrastSample, Rungs } from './types.ts';
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
  let [direct, cross, slope, logDet] = [0, 0, 0, 0];
  for (let c = 0; c < channels; c++) {
    const model = contrast[rung * channels + c] as number;
    const error = sample.contrastError[c] as number;
    const variance = error * error + (trust.curveShare * model) ** 2 + trust.curveFloor ** 2;
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

/** Thinner terraces are the commoner: weight of a layer number before anything is seen, not normalised. */
export function rungPrior(layers: number): number {
  return 1 / (1 + Math.abs(layers));
}

/** log(exp(a) + exp(b)) without overflow. */
export function addLogs(a: number, b: number): number {
  const [high, low] = a > b ? [a, b] : [b, a];
  return low === -Infinity ? high : high + Math.log1p(Math.exp(low - high));
}
