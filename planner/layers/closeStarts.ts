import { climb, logPosterior } from './fit.ts';
import type { FitProblem, Peak, Stage } from './fit.ts';

/** Up to so many samples fit ladders of many scales, and are climbed for quickly. */
const FEW_SAMPLES = 6;
/** Scales and oxides from which is climbed, in units of trust: closer together than the ladders that one flake allows. */
const SCALE_STEP = 0.25;
const SCALE_REACH = 2;
const OXIDES = [-1.5, -0.75, 0, 0.75, 1.5];
/** Steps so small that a climb stays in its own valley. */
const NARROW: Stage = { looseness: 1, strays: 'few', firstStep: 0.12, lastStep: 0.06 };

/** Whether so little was found that each way for the ladder to stand has to be looked for by itself. */
export function saysLittle(samples: number): boolean {
  return samples <= FEW_SAMPLES;
}

/**
 * Every way in which a ladder may stand through a few flakes: one and the same colour is five layers of a strong film or seven of a weak
 * one. A search that strides finds the best of them and would be too sure of it.
 */
export function closePeaks(problem: FitProblem): readonly Peak[] {
  const size = 2 + 3 * problem.context.channels;
  const steps = Math.round((2 * SCALE_REACH) / SCALE_STEP);
  const starts = Array.from({ length: steps + 1 }, (_, i): Peak => {
    const tried = OXIDES.map((oxide): Peak => {
      const at = new Float64Array(size);
      at.set([oxide, -SCALE_REACH + i * SCALE_STEP]);
      return { at, score: logPosterior(problem, at, { looseness: 2, strays: 'few' }) };
    });
    return tried.reduce((best, p) => (p.score > best.score ? p : best));
  });
  return starts.map((s) => climb(problem, s.at, NARROW)).sort((a, b) => b.score - a.score);
}
