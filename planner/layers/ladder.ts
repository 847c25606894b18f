import { filmOf } from '../optics/index.ts';
import { closePeaks, saysLittle } from './closeStarts.ts';
import { ladderCube, rungsAt, thickCube } from './cube.ts';
import type { Cube } from './cube.ts';
import { climb, knowsNothing, logPosterior, rungShares, settingOf, strayShare } from './fit.ts';
import type { FitProblem, Judgement, Peak, Stage, Vector } from './fit.ts';
import { groupLabels, unlabelled, usableLabels } from './labels.ts';
import { packSamples } from './likelihood.ts';
import { CLOUD_LEAST, strayCloud, strayLogs } from './strays.ts';
import { thinLooking } from './thinLooking.ts';
import { fitTrust, ladderLayers, measuresThickness, readLayers, THICKEST_MEASURED_NM, trustOf } from './tuning.ts';
import type { ContrastSample, Hypothesis, LabelledContrast, Ladder, LadderContext } from './types.ts';

/** Where the search starts: oxide and scale in units of trust. */
const OXIDE_STARTS = [-2, -1.2, -0.5, 0, 0.5, 1.2, 2];
const SCALE_STARTS = [-3, -2.25, -1.5, -0.75, 0, 0.75, 1.5, 2.25, 3];
/** So many of the roughly climbed peaks are climbed to the top; so many oxides are tried for each scale. */
const CLIMBS = 5;
const STARTS_PER_SCALE = 2;
/** How the search goes on: from far away, loosely, as it is, and with honest strays. */
const FAR: Judgement = { looseness: 6, strays: 'few' };
const ROUGH: Stage = { looseness: 3, strays: 'few', firstStep: 0.6, lastStep: 0.15 };
const MIDDLE: Stage = { looseness: 1, strays: 'few', firstStep: 0.4, lastStep: 0.1 };
const FINE: Stage = { looseness: 1, strays: 'fitted', firstStep: 0.2, lastStep: 0.04 };
/** Peaks this much lower than the best (in the logarithm) are forgotten. */
const FORGOTTEN = 12;
/** No more samples than this are fitted: so many of those nearest to bare oxide, where rungs are told apart best, and of the rest. */
const THIN_SAMPLES = 60;
const OTHER_SAMPLES = 40;
/** Thickness of the thickest flakes that are told from dirt where layers are counted, nm. */
const THICKEST_NM = 140;
/** Thick films are read by the bulk's index as well from here on. */
const THICK_FROM_LAYERS = 20;
/** Where thickness is measured, the thick curve with its larger doubt stands in from here on, where the exact one fails. */
const HALF_MEASURED_NM = 40;

/** Rungs of the thick curve are this far apart; twice as far where the curve is long. */
const THICK_STEP_NM = 1.5;

const cubes = new Map<string, { readonly ladder: Cube; readonly thick: Cube }>();

/** The cubes of a context, kept: a run reads its ladder again and again. */
export function cubesOf(context: LadderContext): { readonly ladder: Cube; readonly thick: Cube } {
  const key = JSON.stringify({ ...context, bare: undefined });
  const known = cubes.get(key);
  if (known) return known;
  if (cubes.size > 8) cubes.clear();
  const made = { ladder: ladderCube(context, readLayers(context, filmOf(context.material).layerThicknessNm).at(-1) ?? 1), thick: thickCube(context, thickestNm(context)) };
  cubes.set(key, made);
  return made;
}

/**
 * Fits the contrast ladder of a chip to the contrasts of its terraces: oxide thickness near nominal, optical thickness of a layer, and
 * the camera's bands, each within what tables, wafers and cameras are trusted to. Terraces of whole layer numbers stand on rungs, and
 * that fixes the scale. Without samples it is the ladder of the tables, with all their doubt.
 * @param samples the terraces' contrasts, the most certain first
 * @param labelled terraces whose layer number a person has given, under the same optical path and on the same substrate; those that are
 * among the samples too, by their contrast, count once
 */
export function fitLadder(context: LadderContext, samples: readonly ContrastSample[], labelled: readonly LabelledContrast[] = []): Ladder {
  const { ladder, thick } = cubesOf(context);
  const layers = ladderLayers(context);
  const trust = trustOf(context);
  const labels = usableLabels(context, layers, labelled);
  const others = unlabelled(samples, labels);
  const thin = measuresThickness(context) ? others : thinLooking(context, ladder, thick, trust, others);
  const packed = packSamples(tellingSamples(thin), context.channels);
  const cloud = strayCloud(packed);
  const few = saysLittle(packed.count + labels.length);
  const problem: FitProblem = { context, few, cube: ladder, trust: fitTrust(context, few), layers, logWeights: rungShares(layers), samples: packed, strays: strayLogs(cloud, packed), labels: groupLabels(context, layers, labels) };
  const peaks = findPeaks(problem);
  const best = peaks[0]?.evidence ?? 0;
  const weighted = peaks.flatMap((peak) => spreadAround(problem, peak).map((s) => ({ at: s.at, weight: s.share * Math.exp(peak.evidence - best) })));
  const total = weighted.reduce((sum, w) => sum + w.weight, 0);
  const hypotheses = weighted.map((w) => hypothesisAt(problem, thick, w.at, w.weight / total)).sort((a, b) => b.weight - a.weight);
  const [top] = packed.count >= CLOUD_LEAST ? peaks : [];
  const strays = top ? { ...cloud, share: strayShare(problem, top.at) } : cloud;
  return { context, layerThicknessNm: filmOf(context.material).layerThicknessNm, hypotheses, samples: packed.count + labels.length, labelled: labels.length, strays };
}

/** The samples that tell most, in their order; the most certain come first in what is given. */
function tellingSamples(samples: readonly ContrastSample[]): readonly ContrastSample[] {
  if (samples.length <= THIN_SAMPLES + OTHER_SAMPLES) return samples;
  const strength = samples.map((s) => Math.max(...s.contrast.map(Math.abs)));
  const byStrength = samples.map((_, i) => i).sort((a, b) => (strength[a] as number) - (strength[b] as number) || a - b);
  const chosen = new Set(byStrength.slice(0, THIN_SAMPLES));
  for (let i = 0; chosen.size < THIN_SAMPLES + OTHER_SAMPLES; i++) chosen.add(i);
  return samples.filter((_, i) => chosen.has(i));
}

/** A peak with the logarithm of what it is worth: its height and its width. */
interface WeighedPeak extends Peak {
  readonly evidence: number;
}

/**
 * Looks for the ways in which the ladder may stand: for each scale the best oxide, climbed roughly with a loose curve; then the best
 * of these with the true one, and at last with as many strays as there are.
 */
function findPeaks(problem: FitProblem): readonly WeighedPeak[] {
  const size = 2 + 3 * problem.context.channels;
  if (knowsNothing(problem)) return [{ at: new Float64Array(size), score: 0, evidence: 0 }];
  const byScale = (measuresThickness(problem.context) ? [0] : SCALE_STARTS).flatMap((scale) => {
    const starts = OXIDE_STARTS.map((oxide): Peak => {
      const at = new Float64Array(size);
      at.set([oxide, scale]);
      return { at, score: logPosterior(problem, at, FAR) };
    });
    return starts.sort((a, b) => b.score - a.score).slice(0, STARTS_PER_SCALE);
  });
  const rough = problem.few && !measuresThickness(problem.context) ? closePeaks(problem) : byScale.map((s) => climb(problem, s.at, ROUGH)).sort((a, b) => b.score - a.score);
  const chosen = rough.filter((p, i) => rough.slice(0, i).every((q) => !samePeak(p.at, q.at))).slice(0, problem.few ? 2 * CLIMBS : CLIMBS);
  const fine = refine(problem, chosen).map((p) => ({ ...p, evidence: p.score + logRoom(problem, p) })).sort((a, b) => b.evidence - a.evidence);
  const best = fine[0]?.evidence ?? 0;
  return fine.filter((p, i) => p.evidence > best - FORGOTTEN && fine.slice(0, i).every((q) => !samePeak(p.at, q.at)));
}

/**
 * Logarithm of the room around a peak against that of the prior (Laplace's approximation, parameters taken one by one): a narrow peak that
 * many parameters had to be bent for is worth less than a wide one of the same height.
 */
function logRoom(problem: FitProblem, peak: Peak): number {
  let sum = 0;
  for (let i = 0; i < peak.at.length; i++) sum += Math.log(widthAt(problem, peak, i));
  return sum;
}

/** Climbs to the top: with honest strays the tables' own ladder may win. */
function refine(problem: FitProblem, chosen: readonly Peak[]): readonly Peak[] {
  const fine = fineStage(problem);
  if (fine.strays === 'few') return chosen.map((p) => climb(problem, p.at, { ...MIDDLE, lastStep: fine.lastStep }));
  const tables = new Float64Array(2 + 3 * problem.context.channels);
  return [...chosen.map((p) => climb(problem, p.at, MIDDLE).at), tables].map((at) => climb(problem, at, fine));
}

/** Where thickness is measured, the rungs leave no room to tell strays from films; nor do a few samples tell. */
function fineStage(problem: FitProblem): Stage {
  return measuresThickness(problem.context) || problem.samples.count < CLOUD_LEAST ? { ...FINE, strays: 'few' } : FINE;
}

function samePeak(a: Vector, b: Vector): boolean {
  return Math.abs((a[0] as number) - (b[0] as number)) < 0.3 && Math.abs((a[1] as number) - (b[1] as number)) < 0.3;
}

/** Five places across the scale and three across the oxide, as wide as the posterior is around its peak, with their shares. */
function spreadAround(problem: FitProblem, peak: Peak): readonly { readonly at: Vector; readonly share: number }[] {
  const oxideWidth = widthAt(problem, peak, 0);
  const scaleWidth = widthAt(problem, peak, 1);
  const places: { at: Vector; share: number }[] = [];
  for (const [oxide, oxideShare] of [[0, 0.5], [1.2, 0.25], [-1.2, 0.25]] as const) {
    for (const [scale, scaleShare] of [[0, 0.4], [1, 0.24], [-1, 0.24], [2, 0.06], [-2, 0.06]] as const) {
      const at = Float64Array.from(peak.at);
      at[0] = (at[0] as number) + oxide * oxideWidth;
      at[1] = (at[1] as number) + scale * scaleWidth;
      places.push({ at, share: oxideShare * scaleShare });
    }
  }
  return places;
}

/** Standard deviation along one parameter from the curvature at the peak, at most that of the prior. */
function widthAt(problem: FitProblem, peak: Peak, parameter: number): number {
  const step = 0.1;
  const side = (sign: number): number => {
    const at = Float64Array.from(peak.at);
    at[parameter] = (at[parameter] as number) + sign * step;
    return logPosterior(problem, at, fineStage(problem));
  };
  const curvature = (2 * peak.score - side(1) - side(-1)) / (step * step);
  return 1 / Math.sqrt(Math.max(curvature, 1));
}

function thickestNm(context: LadderContext): number {
  return measuresThickness(context) ? THICKEST_MEASURED_NM : THICKEST_NM;
}

function hypothesisAt(problem: FitProblem, thickCubeOf: Cube, at: Vector, weight: number): Hypothesis {
  const { context } = problem;
  const { layerThicknessNm } = filmOf(context.material);
  const setting = settingOf(problem, at);
  const rungs = rungsAt(problem.cube, setting, readLayers(context, layerThicknessNm));
  const measured = measuresThickness(context);
  const [firstNm, stepNm] = measured ? [HALF_MEASURED_NM, 2 * THICK_STEP_NM] : [THICK_FROM_LAYERS * layerThicknessNm, THICK_STEP_NM];
  const steps = Math.max(1, Math.floor((thickestNm(context) - firstNm) / stepNm));
  const thickLayers = Float64Array.from({ length: steps }, (_, i) => (firstNm + i * stepNm) / thickCubeOf.layerThicknessNm);
  const plain = { ...setting, scale: setting.scale.map(() => 1) };
  return { setting, rungs, thick: rungsAt(thickCubeOf, plain, thickLayers), weight };
}
