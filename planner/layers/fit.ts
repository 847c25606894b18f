import type { Cube } from './cube.ts';
import { rungsAt } from './cube.ts';
import type { LabelGroup } from './labels.ts';
import { mixtureLog, rungPrior } from './likelihood.ts';
import type { PackedSamples } from './likelihood.ts';
import type { LadderContext, LadderSetting } from './types.ts';
import type { Trust } from './tuning.ts';

/**
 * A setting in units of trust, so that the prior is a standard Gaussian: oxide, common scale, then scale, band shift and gain for
 * each channel.
 */
export type Vector = Float64Array;

/** Share of terraces that belong to no rung: dirt that looked like a flake, terraces wrongly joined, thick ones. */
const STRAY_SHARE = 0.1;
/** Density of strays: even over contrasts from about -2 to 1 in each channel. */
const STRAY_LOG_DENSITY_PER_CHANNEL = -Math.log(3);

/**
 * The scale of a channel, in units of trust, beyond which nobody has ever seen a film: a wall, so that a chip of many thick flakes cannot
 * buy a ladder of its own.
 */
const SCALE_WALL = 2.4;

export interface FitProblem {
  readonly context: LadderContext;
  readonly cube: Cube;
  readonly trust: Trust;
  readonly layers: Float64Array;
  readonly logWeights: Float64Array;
  readonly samples: PackedSamples;
  /** Terraces whose layer number a person has given. */
  readonly labels: readonly LabelGroup[];
}

export function settingOf(problem: FitProblem, at: Vector): LadderSetting {
  const { context, trust } = problem;
  const { channels } = context;
  const common = trust.scale * (at[1] as number);
  return {
    oxideNm: context.oxideNm * (1 + trust.oxideShare * (at[0] as number)),
    scale: Array.from({ length: channels }, (_, c) => Math.exp(common + trust.channelScale * (at[2 + c] as number))),
    shiftNm: Array.from({ length: channels }, (_, c) => trust.bandNm * (at[2 + channels + c] as number)),
    gain: Array.from({ length: channels }, (_, c) => Math.exp(trust.gain * (at[2 + 2 * channels + c] as number))),
  };
}

/**
 * Logarithm of the posterior density of a setting: the flakes' contrasts as a mixture of rungs and strays, those with a label as one in
 * which the rung named weighs more, and the prior.
 * @param looseness widens the curve's own error, for the first rounds of a search
 */
export function logPosterior(problem: FitProblem, at: Vector, looseness: number): number {
  let score = 0;
  for (const v of at) score -= (v * v) / 2;
  for (const s of settingOf(problem, at).scale) score -= (Math.log(s) / (SCALE_WALL * Math.hypot(problem.trust.scale, problem.trust.channelScale))) ** 8;
  if (knowsNothing(problem)) return score;
  const trust = { ...problem.trust, curveShare: problem.trust.curveShare * looseness, curveFloor: problem.trust.curveFloor * looseness };
  const rungs = rungsAt(problem.cube, settingOf(problem, at), problem.layers);
  const strayDensity = STRAY_LOG_DENSITY_PER_CHANNEL * problem.context.channels;
  score += mixtureLog(problem.samples, rungs, problem.logWeights, Math.log(STRAY_SHARE) + strayDensity, trust);
  for (const { samples, logWeights, logStray } of problem.labels) score += mixtureLog(samples, rungs, logWeights, logStray + strayDensity, trust);
  return score;
}

/** Without a single terrace the prior is all there is. */
export function knowsNothing(problem: FitProblem): boolean {
  return problem.samples.count === 0 && problem.labels.length === 0;
}

/** Logarithm of the share of terraces that each rung is expected to have. */
export function rungShares(layers: Float64Array): Float64Array {
  const priors = Float64Array.from(layers, rungPrior);
  const total = priors.reduce((sum, p) => sum + p, 0);
  return priors.map((p) => Math.log(((1 - STRAY_SHARE) * p) / total));
}

export interface Peak {
  readonly at: Vector;
  readonly score: number;
}

/** A search in which steps are halved from the first to the last, with the curve's own error widened by `looseness`. */
export interface Stage {
  readonly looseness: number;
  readonly firstStep: number;
  readonly lastStep: number;
}

/**
 * Climbs from a start by trying each parameter up and down, and the whole move once more where a round went well, so that it also
 * follows narrow ridges. Hooke and Jeeves, J. ACM 8 (1961) 212 (from memory).
 */
export function climb(problem: FitProblem, start: Vector, stage: Stage): Peak {
  let peak: Peak = { at: start, score: logPosterior(problem, start, stage.looseness) };
  for (let step = stage.firstStep; step >= stage.lastStep; ) {
    const explored = explore(problem, peak, step, stage.looseness);
    if (explored.score <= peak.score + 0.002) {
      step /= 2;
      continue;
    }
    peak = stride(problem, peak, explored, stage.looseness);
  }
  return peak;
}

/** One round over all parameters, each move kept where it helps. */
function explore(problem: FitProblem, from: Peak, step: number, looseness: number): Peak {
  let { at, score } = from;
  for (let i = 0; i < from.at.length; i++) {
    for (const sign of [1, -1]) {
      const tried = Float64Array.from(at);
      tried[i] = (tried[i] as number) + sign * step;
      const found = logPosterior(problem, tried, looseness);
      if (found <= score) continue;
      [at, score] = [tried, found];
      break;
    }
  }
  return { at, score };
}

/** Goes on in the direction of a successful round, twice as far each time, while it helps. */
function stride(problem: FitProblem, before: Peak, explored: Peak, looseness: number): Peak {
  let best = explored;
  for (let reach = 1; reach < 20; reach *= 2) {
    const at = best.at.map((v, i) => v + reach * ((explored.at[i] as number) - (before.at[i] as number)));
    const score = logPosterior(problem, at, looseness);
    if (score <= best.score) break;
    best = { at, score };
  }
  return best;
}
