import type { LayerCall } from '../flakes/types.ts';
import { LAYERS_MOST, OFF_CURVE } from './limits.ts';
import { matchRung, rungPrior } from './likelihood.ts';
import { numbersHolding } from './range.ts';
import { strayLog } from './strays.ts';
import { thicknessOf } from './thickness.ts';
import type { ThicknessPiece } from './thickness.ts';
import { measuresThickness, THICKEST_MEASURED_NM, trustOf } from './tuning.ts';
import type { Trust } from './tuning.ts';
import type { ContrastSample, Hypothesis, Ladder } from './types.ts';

export { LAYERS_MOST, OFF_CURVE } from './limits.ts';

/** Thick films are only told from dirt, not measured: their curve may be off by more. */
const THICK_TRUST = { curveShare: 0.06, curveFloor: 0.04, partingLayers: Infinity };
/** Weight of all thick films together against the counted rungs. */
const THICK_PRIOR = 1;

/** A rung this much below the best one (in the logarithm) adds nothing. */
const NEGLIGIBLE = 30;

/** What one reading adds up to over all hypotheses. */
interface Tally {
  readonly byLayers: Float64Array;
  readonly pieces: ThicknessPiece[];
  weight: number;
  least: number;
}

/** The contrast that a rung is held against: the same for all, unless several measurements are brought together rung by rung. */
export type SampleFor = (hypothesis: number, curve: 'rungs' | 'thick', rung: number) => ContrastSample;

/**
 * Reads a contrast on the ladder: the probability of 0 to 10 layers and of more, over all hypotheses of the ladder; the thickness
 * where that is what is measured; and how far off the curve it lies.
 * @param sampleFor what each rung is held against, where that is not the contrast itself
 */
export function readContrast(ladder: Ladder, sample: ContrastSample, sampleFor: SampleFor = () => sample): LayerCall {
  const trust = trustOf(ladder.context);
  const tally: Tally = { byLayers: new Float64Array(LAYERS_MOST + 2), pieces: [], weight: 0, least: Infinity };
  const readings = ladder.hypotheses.map((h, i) => readUnder(h, (curve, rung) => sampleFor(i, curve, rung), trust));
  let top = -Infinity;
  for (const reading of readings) for (const match of reading) top = Math.max(top, match.logWeight);
  ladder.hypotheses.forEach((hypothesis, i) => {
    for (const match of readings[i] ?? []) addMatch(tally, match, match.logWeight - top, hypothesis.weight, ladder);
  });
  return callOf(tally, ladder, sample.contrast.length, strayShareOf(ladder, sample, top + Math.log(tally.weight)));
}

/**
 * Probability that a contrast stands on no rung at all, from how many of the chip's samples do not and where those lie. Where thickness
 * is measured the rungs leave no room to tell.
 * @param filmLog log density over all films, with the weights that they have among themselves
 */
function strayShareOf(ladder: Ladder, sample: ContrastSample, filmLog: number): number {
  if (measuresThickness(ladder.context)) return 0;
  const { strays, hypotheses } = ladder;
  const weights = [...(hypotheses[0]?.rungs.layers ?? [])].reduce((sum, n) => sum + rungPrior(n), THICK_PRIOR);
  const odds = Math.log(strays.share / (1 - strays.share)) + strayLog(strays, sample.contrast) - (filmLog - Math.log(weights));
  return 1 / (1 + Math.exp(-odds));
}

interface Reading {
  readonly layers: number;
  readonly chiSquare: number;
  readonly logWeight: number;
  /** Thickness in layers of the ladder's table, and half of the step to the next rung. */
  readonly thickness: number;
  readonly half: number;
}

function readUnder(hypothesis: Hypothesis, sampleFor: (curve: 'rungs' | 'thick', rung: number) => ContrastSample, trust: Trust): readonly Reading[] {
  const { rungs, thick, setting } = hypothesis;
  const found: Reading[] = [];
  const scale = setting.scale.reduce((sum, s) => sum + s, 0) / setting.scale.length;
  for (let rung = 0; rung < rungs.layers.length; rung++) {
    const layers = rungs.layers[rung] as number;
    const match = matchRung(sampleFor('rungs', rung), rungs, rung, trust);
    found.push({ layers, chiSquare: match.chiSquare, logWeight: match.logDensity + Math.log(rungPrior(layers)), thickness: layers * scale, half: (scale * stepAt(rungs.layers, rung)) / 2 });
  }
  const thickTrust = { ...trust, ...THICK_TRUST };
  const share = Math.log(THICK_PRIOR / Math.max(1, thick.layers.length));
  for (let rung = 0; rung < thick.layers.length; rung++) {
    const match = matchRung(sampleFor('thick', rung), thick, rung, thickTrust);
    const layers = thick.layers[rung] as number;
    found.push({ layers, chiSquare: match.chiSquare, logWeight: match.logDensity + share, thickness: layers, half: stepAt(thick.layers, rung) / 2 });
  }
  return found;
}

/** Layers from a rung to the next, or at the end from the one before. */
function stepAt(layers: Float64Array, rung: number): number {
  const from = Math.min(rung, Math.max(0, layers.length - 2));
  return (layers[from + 1] ?? 1) - (layers[from] ?? 0);
}

function addMatch(tally: Tally, match: Reading, logShare: number, hypothesisWeight: number, ladder: Ladder): void {
  tally.least = Math.min(tally.least, match.chiSquare);
  const weight = hypothesisWeight * Math.exp(logShare);
  const slot = Math.min(LAYERS_MOST + 1, Math.round(match.layers));
  tally.byLayers[slot] = (tally.byLayers[slot] as number) + weight;
  tally.weight += weight;
  if (logShare < -NEGLIGIBLE || !measuresThickness(ladder.context)) return;
  tally.pieces.push({ nm: match.thickness * ladder.layerThicknessNm, halfNm: match.half * ladder.layerThicknessNm, weight });
}

function callOf(tally: Tally, ladder: Ladder, channels: number, stray: number): LayerCall {
  const probabilities = Array.from(tally.byLayers, (p) => p / tally.weight);
  const most = Math.max(...probabilities);
  const best = probabilities.indexOf(most);
  const misfit = Math.sqrt(tally.least / channels);
  const layers = best > LAYERS_MOST || best === 0 || misfit > OFF_CURVE || stray > 0.5 ? null : best;
  const call = { layers, probability: most * (1 - stray), probabilities, stray, among: numbersHolding(probabilities), misfit };
  if (!measuresThickness(ladder.context) || misfit > OFF_CURVE) return call;
  const { call: thickness, errorNm } = thicknessOf(tally.pieces, THICKEST_MEASURED_NM, ladder.layerThicknessNm / 4);
  return { ...call, thickness, thicknessNm: thickness.nm, thicknessErrorNm: errorNm };
}
