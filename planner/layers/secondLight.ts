import type { LayerCall } from '../flakes/types.ts';
import { rungsAt } from './cube.ts';
import { cubesOf } from './ladder.ts';
import { matchRung } from './likelihood.ts';
import { readContrast } from './posterior.ts';
import { trustOf } from './tuning.ts';
import type { ContrastSample, Hypothesis, Ladder, Rungs } from './types.ts';

/**
 * How much of the objective's aperture the light may fill: the aperture stop is usually set to 70 to 100 % of it (common practice, no
 * source). At 10x/0.30 that hardly shows; at 50x/0.80 it moves contrasts by a layer.
 */
const FILLINGS: readonly number[] = Array.from({ length: 13 }, (_, i) => 0.7 + 0.025 * i);
/** Curves are worked out for these and interpolated in between, in the square of the filling, which is what the cone goes by. */
const NODES: readonly number[] = [0.7, 0.86, 1];
/** What flakes together say of the filling counts as so many at most: how far the tables are off is the same error in all of them. */
const MOST_WITNESSES = 3;
/** Layer numbers less likely than this say nothing of the filling. */
const LEAST_PROBABILITY = 1e-3;

/** A ladder as it looks through another objective, for each filling of its aperture. Plain data. */
export interface SecondLight {
  readonly fillings: readonly number[];
  readonly ladders: readonly Ladder[];
}

/**
 * The same ladder seen through another objective: wafer, tables and camera stand in each hypothesis as they did, with the same weight,
 * and only the cone of light is another.
 */
export function secondLight(ladder: Ladder, numericalAperture: number): SecondLight {
  const nodes = NODES.map((filling) => ladderThrough(ladder, filling * numericalAperture));
  return { fillings: FILLINGS, ladders: FILLINGS.map((filling) => between(ladder, nodes, filling)) };
}

function ladderThrough(ladder: Ladder, numericalAperture: number): Ladder {
  const context = { ...ladder.context, numericalAperture };
  const cubes = cubesOf(context);
  const hypotheses = ladder.hypotheses.map((hypothesis): Hypothesis => {
    const { setting, rungs, thick } = hypothesis;
    const plain = { ...setting, scale: setting.scale.map(() => 1) };
    return { ...hypothesis, rungs: rungsAt(cubes.ladder, setting, rungs.layers), thick: rungsAt(cubes.thick, plain, thick.layers) };
  });
  return { ...ladder, context, hypotheses };
}

/** Lagrange's parabola through the three nodes (any textbook of numerical analysis). */
function between(ladder: Ladder, nodes: readonly Ladder[], filling: number): Ladder {
  const shares = NODES.map((node) => NODES.reduce((product, other) => (other === node ? product : (product * (filling ** 2 - other ** 2)) / (node ** 2 - other ** 2)), 1));
  const mixed = (hypothesis: number, curve: 'rungs' | 'thick', base: Rungs): Rungs => {
    const parts = nodes.flatMap((node) => node.hypotheses[hypothesis]?.[curve] ?? []);
    const mix = (of: (rungs: Rungs) => Float64Array): Float64Array => of(base).map((_, i) => parts.reduce((sum, part, n) => sum + (shares[n] ?? 0) * (of(part)[i] ?? 0), 0));
    return { ...base, contrast: mix((r) => r.contrast), perOxideNm: mix((r) => r.perOxideNm), between: mix((r) => r.between).map((v) => Math.max(0, v)) };
  };
  return { ...ladder, hypotheses: ladder.hypotheses.map((h, i) => ({ ...h, rungs: mixed(i, 'rungs', h.rungs), thick: mixed(i, 'thick', h.thick) })) };
}

/**
 * What one terrace says of the filling: for each, the logarithm of how likely its contrast is through the second objective, given what
 * the first pass says of its layers.
 */
export function fillingLogs({ ladders }: SecondLight, first: LayerCall, second: ContrastSample): readonly number[] {
  return ladders.map((ladder) => {
    const trust = trustOf(ladder.context);
    let likely = 0;
    for (const { rungs, weight } of ladder.hypotheses) {
      for (const [rung, layers] of rungs.layers.entries()) {
        const probability = Number.isInteger(layers) ? (first.probabilities[layers] ?? 0) : 0;
        if (layers >= 1 && probability > LEAST_PROBABILITY) likely += weight * probability * Math.exp(matchRung(second, rungs, rung, trust).logDensity);
      }
    }
    return Math.log(likely + Number.MIN_VALUE);
  });
}

/** Weight of each filling from what terraces say of it, all alike before there is any; they add up to 1. */
export function fillingWeights({ fillings }: SecondLight, witnesses: readonly (readonly number[])[]): readonly number[] {
  const share = Math.min(1, MOST_WITNESSES / Math.max(1, witnesses.length));
  const logs = fillings.map((_, i) => share * witnesses.reduce((sum, each) => sum + (each[i] ?? 0), 0));
  const most = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - most));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  return weights.map((weight) => weight / total);
}

/** Reads a terrace through the second objective alone. */
export function readThrough({ ladders }: SecondLight, weights: readonly number[], second: ContrastSample): LayerCall {
  const [one] = ladders;
  if (!one) throw new RangeError('a second light has at least one filling');
  return readContrast({ ...one, hypotheses: ladders.flatMap((ladder, i) => ladder.hypotheses.map((h) => ({ ...h, weight: h.weight * (weights[i] ?? 0) }))) }, second);
}

/**
 * Reads one terrace measured twice, through two objectives. How far the tables' curve is off is the same error in both, so that it is
 * not made smaller by measuring twice: for each rung the two distances from the curve are averaged, each with the weight of its own
 * error, and the mean is held against the first ladder as one contrast. What the two say of each other (that they differ) is left out:
 * the model of the cone is not trusted so far.
 */
export function readTogether(ladder: Ladder, first: ContrastSample, { ladders }: SecondLight, weights: readonly number[], second: ContrastSample): LayerCall {
  const count = ladder.hypotheses.length;
  const hypotheses = ladders.flatMap((_, i) => ladder.hypotheses.map((h) => ({ ...h, weight: h.weight * (weights[i] ?? 0) })));
  return readContrast({ ...ladder, hypotheses }, first, (hypothesis, curve, rung) => {
    const here = ladder.hypotheses[hypothesis % count]?.[curve];
    const there = ladders[Math.floor(hypothesis / count)]?.hypotheses[hypothesis % count]?.[curve];
    return here && there ? meanAbout(first, here, second, there, rung) : first;
  });
}

function meanAbout(first: ContrastSample, here: Rungs, second: ContrastSample, there: Rungs, rung: number): ContrastSample {
  const contrast: number[] = [];
  const contrastError: number[] = [];
  for (let channel = 0; channel < here.channels; channel += 1) {
    const at = rung * here.channels + channel;
    const [firstWeight, secondWeight] = [weightOf(first, channel), weightOf(second, channel)];
    const total = firstWeight + secondWeight;
    const firstOff = (first.contrast[channel] ?? 0) - (here.contrast[at] ?? 0);
    const secondOff = (second.contrast[channel] ?? 0) - (there.contrast[at] ?? 0);
    contrast.push((here.contrast[at] ?? 0) + (firstWeight * firstOff + secondWeight * secondOff) / total);
    contrastError.push(1 / Math.sqrt(total));
  }
  return { contrast, contrastError };
}

/** Least error that a contrast may claim: it keeps the weights finite (far below what any frame gives). */
const LEAST_ERROR = 1e-6;

function weightOf({ contrastError }: ContrastSample, channel: number): number {
  return 1 / Math.max(LEAST_ERROR, contrastError[channel] ?? 1) ** 2;
}
