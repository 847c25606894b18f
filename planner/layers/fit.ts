import type { Cube } from './cube.ts';
import { bareAt, rungsAt } from './cube.ts';
import type { LabelGroup } from './labels.ts';
import { addLogs, rungLogs, rungPrior } from './likelihood.ts';
import type { PackedSamples } from './likelihood.ts';
import { mixed, STRAY_LOG_DENSITY_PER_CHANNEL } from './strays.ts';
import type { LadderContext, LadderSetting } from './types.ts';
import type { Trust } from './tuning.ts';

/**
 * A setting in units of trust, so that the prior is a standard Gaussian: oxide, common scale, then scale, band shift and gain for
 * each channel.
 */
export type Vector = Float64Array;

/** While a search still looks for its ladder, so few terraces are taken to stand on no rung: otherwise it would find that none do. */
const FEW_STRAYS = 0.1;

/**
 * The oxide, in units of trust, beyond which no wafer has been seen: wafers differ from their box by 5 % (common practice, no source), and
 * here lies 6.6 %. Such walls keep a chip of many thick flakes from buying a ladder of its own.
 */
const OXIDE_WALL = 2.2;

/** A white balance on a mirror is off by such a share: the mirror's own colour, and a lamp that changed since (a guess of ours, no source). */
const BALANCE = 0.04;

export interface FitProblem {
  readonly context: LadderContext;
  /** Whether so little was found that many ladders may stand. */
  readonly few: boolean;
  readonly cube: Cube;
  readonly trust: Trust;
  readonly layers: Float64Array;
  readonly logWeights: Float64Array;
  readonly samples: PackedSamples;
  /** Log density of each sample if it stood on no rung. */
  readonly strays: Float64Array;
  /** Terraces whose layer number a person has given. */
  readonly labels: readonly LabelGroup[];
}

export function settingOf(problem: FitProblem, at: Vector): LadderSetting {
  const { context, trust } = problem;
  const { channels } = context;
  const common = trust.scaleCentre + trust.scale * (at[1] as number);
  return {
    oxideNm: context.oxideNm * (1 + trust.oxideShare * (at[0] as number)),
    scale: Array.from({ length: channels }, (_, c) => Math.exp(common + trust.channelScale * (at[2 + c] as number))),
    shiftNm: Array.from({ length: channels }, (_, c) => trust.bandNm * (at[2 + channels + c] as number)),
    gain: Array.from({ length: channels }, (_, c) => Math.exp(trust.gain * (at[2 + 2 * channels + c] as number))),
  };
}

/** How hard a setting is judged. */
export interface Judgement {
  /** Widens the curve's own error, for the first rounds of a search; 1 is what it is. */
  readonly looseness: number;
  /** Whether few samples are taken to be strays, or as many as suits the setting best. */
  readonly strays: 'few' | 'fitted';
}

/**
 * Logarithm of the posterior density of a setting: the flakes' contrasts as a mixture of rungs and strays, those with a label as one in
 * which the rung named weighs more, and the prior.
 */
export function logPosterior(problem: FitProblem, at: Vector, { looseness, strays }: Judgement): number {
  let score = 0;
  const { scaleCentre, scaleWall, scaleFlat, scale } = problem.trust;
  for (let i = 0; i < at.length; i++) {
    const v = at[i] as number;
    score -= i === 1 && scaleFlat ? ((scale * v) / scaleWall) ** 4 : (v * v) / 2;
  }
  score -= ((at[0] as number) / OXIDE_WALL) ** 8;
  const setting = settingOf(problem, at);
  for (const s of setting.scale) score -= ((Math.log(s) - scaleCentre) / scaleWall) ** 8;
  score += bareLog(problem, setting);
  if (problem.samples.count === 0 && problem.labels.length === 0) return score;
  const trust = { ...problem.trust, curveShare: problem.trust.curveShare * looseness, curveFloor: problem.trust.curveFloor * looseness };
  const rungs = rungsAt(problem.cube, setting, problem.layers);
  const strayDensity = STRAY_LOG_DENSITY_PER_CHANNEL * problem.context.channels;
  const logs = rungLogs(problem.samples, rungs, problem.logWeights, trust);
  score += strays === 'fitted' ? mixed(logs, problem.strays).log : withStrays(logs, Math.log(FEW_STRAYS) + strayDensity, Math.log(1 - FEW_STRAYS));
  for (const { samples, logWeights, logStray } of problem.labels) score += withStrays(rungLogs(samples, rungs, logWeights, trust), logStray + strayDensity, 0);
  return score;
}

/**
 * Log likelihood of the colour of bare oxide: each channel against the second (the green of a colour camera), as logarithms. The lamp, the
 * mirror and the balance are trusted to {@link BALANCE}.
 */
function bareLog(problem: FitProblem, setting: LadderSetting): number {
  const { bare } = problem.context;
  if (bare?.length !== problem.context.channels || bare.length < 2) return 0;
  const model = bareAt(problem.cube, setting);
  const off = bare.map((level, c) => Math.log(Math.max(level, 1e-9) / Math.max(model[c] as number, 1e-9)));
  return off.reduce((sum, o, c) => (c === 1 ? sum : sum - ((o - (off[1] as number)) / BALANCE) ** 2 / 2), 0);
}

/** Log likelihood of samples on rungs or off them, each with its share. */
function withStrays(rungs: Float64Array, stray: number, onRung: number): number {
  return rungs.reduce((sum, log) => sum + addLogs(stray, onRung + log), 0);
}

/** Share of strays among the samples under a setting. */
export function strayShare(problem: FitProblem, at: Vector): number {
  const rungs = rungsAt(problem.cube, settingOf(problem, at), problem.layers);
  return mixed(rungLogs(problem.samples, rungs, problem.logWeights, problem.trust), problem.strays).share;
}

/** Without a single terrace, nor the colour of bare oxide, the prior is all there is. */
export function knowsNothing(problem: FitProblem): boolean {
  return problem.samples.count === 0 && problem.labels.length === 0 && problem.context.bare === undefined;
}

/** Logarithm of the share of terraces that each rung is expected to have. */
export function rungShares(layers: Float64Array): Float64Array {
  const priors = Float64Array.from(layers, rungPrior);
  const total = priors.reduce((sum, p) => sum + p, 0);
  return priors.map((p) => Math.log(p / total));
}

export interface Peak {
  readonly at: Vector;
  readonly score: number;
}

/** A search in which steps are halved from the first to the last. */
export interface Stage extends Judgement {
  readonly firstStep: number;
  readonly lastStep: number;
}

/**
 * Climbs from a start by trying each parameter up and down, and the whole move once more where a round went well, so that it also
 * follows narrow ridges. Hooke and Jeeves, J. ACM 8 (1961) 212 (from memory).
 */
export function climb(problem: FitProblem, start: Vector, stage: Stage): Peak {
  let peak: Peak = { at: start, score: logPosterior(problem, start, stage) };
  for (let step = stage.firstStep; step >= stage.lastStep; ) {
    const explored = explore(problem, peak, step, stage);
    if (explored.score <= peak.score + 0.002) {
      step /= 2;
      continue;
    }
    peak = stride(problem, peak, explored, stage);
  }
  return peak;
}

/** One round over all parameters, each move kept where it helps. */
function explore(problem: FitProblem, from: Peak, step: number, judgement: Judgement): Peak {
  let { at, score } = from;
  for (let i = 0; i < from.at.length; i++) {
    for (const sign of [1, -1]) {
      const tried = at.slice();
      tried[i] = (tried[i] as number) + sign * step;
      const found = logPosterior(problem, tried, judgement);
      if (found <= score) continue;
      [at, score] = [tried, found];
      break;
    }
  }
  return { at, score };
}

/** Goes on in the direction of a successful round, twice as far each time, while it helps. */
function stride(problem: FitProblem, before: Peak, explored: Peak, judgement: Judgement): Peak {
  let best = explored;
  for (let reach = 1; reach < 20; reach *= 2) {
    const at = best.at.map((v, i) => v + reach * ((explored.at[i] as number) - (before.at[i] as number)));
    const score = logPosterior(problem, at, judgement);
    if (score <= best.score) break;
    best = { at, score };
  }
  return best;
}
