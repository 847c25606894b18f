import type { LayerCall } from '../flakes/types.ts';
import { rungsAt } from './cube.ts';
import { cubesOf } from './ladder.ts';
import { readContrast } from './posterior.ts';
import type { ContrastSample, Hypothesis, Ladder, Rungs } from './types.ts';

/**
 * The same ladder seen through another objective: wafer, tables and camera stand in each hypothesis as they did, with the same weight,
 * and only the cone of light is another.
 */
export function ladderThrough(ladder: Ladder, numericalAperture: number): Ladder {
  const context = { ...ladder.context, numericalAperture };
  const cubes = cubesOf(context);
  const hypotheses = ladder.hypotheses.map((hypothesis): Hypothesis => {
    const { setting, rungs, thick } = hypothesis;
    const plain = { ...setting, scale: setting.scale.map(() => 1) };
    return { ...hypothesis, rungs: rungsAt(cubes.ladder, setting, rungs.layers), thick: rungsAt(cubes.thick, plain, thick.layers) };
  });
  return { ...ladder, context, hypotheses };
}

/**
 * Reads one terrace measured twice, through two objectives. How far the tables' curve is off is the same error in both, so that it is
 * not made smaller by measuring twice: for each rung the two distances from the curve are averaged, each with the weight of its own
 * error, and the mean is held against the first ladder as one contrast. What the two say of each other (that they differ) is left out:
 * the model of the cone is not trusted so far.
 * @param through the first ladder as `ladderThrough` makes it: hypothesis for hypothesis the same
 */
export function readTogether(ladder: Ladder, first: ContrastSample, through: Ladder, second: ContrastSample): LayerCall {
  return readContrast(ladder, first, (hypothesis, curve, rung) => {
    const [here, there] = [ladder.hypotheses[hypothesis]?.[curve], through.hypotheses[hypothesis]?.[curve]];
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
