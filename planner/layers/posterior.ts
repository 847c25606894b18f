import type { LayerCall } from '../flakes/types.ts';
import { matchRung, rungPrior } from './likelihood.ts';
import { measuresThickness, trustOf } from './tuning.ts';
import type { Trust } from './tuning.ts';
import type { ContrastSample, Hypothesis, Ladder } from './types.ts';

/** Layer numbers are given one by one up to this; index 11 of the probabilities is everything thicker. */
export const LAYERS_MOST = 10;
/** Farther from every rung than this, in standard errors per channel, is not on the layer curve. */
export const OFF_CURVE = 4;
/** Thick films are only told from dirt, not measured: their curve may be off by more. */
const THICK_TRUST = { curveShare: 0.06, curveFloor: 0.04, partingLayers: Infinity };
/** Weight of all thick films together against the counted rungs. */
const THICK_PRIOR = 0.2;

/** What one reading adds up to over all hypotheses. */
interface Tally {
  readonly byLayers: Float64Array;
  weight: number;
  thickness: number;
  thicknessSquares: number;
  least: number;
}

/**
 * Reads a contrast on the ladder: the probability of 0 to 10 layers and of more, over all hypotheses of the ladder; the thickness
 * where that is what is measured; and how far off the curve it lies.
 */
export function readContrast(ladder: Ladder, sample: ContrastSample): LayerCall {
  const trust = trustOf(ladder.context);
  const tally: Tally = { byLayers: new Float64Array(LAYERS_MOST + 2), weight: 0, thickness: 0, thicknessSquares: 0, least: Infinity };
  const readings = ladder.hypotheses.map((h) => readUnder(h, sample, trust));
  const top = Math.max(...readings.flatMap((r) => r.map((m) => m.logWeight)));
  ladder.hypotheses.forEach((hypothesis, i) => {
    for (const match of readings[i] ?? []) addMatch(tally, match, hypothesis.weight * Math.exp(match.logWeight - top), ladder);
  });
  return callOf(tally, ladder, sample.contrast.length);
}

interface Reading {
  readonly layers: number;
  readonly chiSquare: number;
  readonly logWeight: number;
  /** Thickness, by the table of this rung. */
  readonly thicknessNm: number;
}

function readUnder(hypothesis: Hypothesis, sample: ContrastSample, trust: Trust): readonly Reading[] {
  const { rungs, thick, setting } = hypothesis;
  const found: Reading[] = [];
  const scale = setting.scale.reduce((sum, s) => sum + s, 0) / setting.scale.length;
  for (let rung = 0; rung < rungs.layers.length; rung++) {
    const layers = rungs.layers[rung] as number;
    const match = matchRung(sample, rungs, rung, trust);
    found.push({ layers, chiSquare: match.chiSquare, logWeight: match.logDensity + Math.log(rungPrior(layers)), thicknessNm: layers * scale });
  }
  const thickTrust = { ...trust, ...THICK_TRUST };
  const share = Math.log(THICK_PRIOR / Math.max(1, thick.layers.length));
  for (let rung = 0; rung < thick.layers.length; rung++) {
    const match = matchRung(sample, thick, rung, thickTrust);
    const layers = thick.layers[rung] as number;
    found.push({ layers, chiSquare: match.chiSquare, logWeight: match.logDensity + share, thicknessNm: layers });
  }
  return found;
}

function addMatch(tally: Tally, match: Reading, weight: number, ladder: Ladder): void {
  const slot = Math.min(LAYERS_MOST + 1, Math.round(match.layers));
  const nm = match.thicknessNm * ladder.layerThicknessNm;
  tally.byLayers[slot] = (tally.byLayers[slot] as number) + weight;
  tally.weight += weight;
  tally.thickness += weight * nm;
  tally.thicknessSquares += weight * nm * nm;
  tally.least = Math.min(tally.least, match.chiSquare);
}

function callOf(tally: Tally, ladder: Ladder, channels: number): LayerCall {
  const probabilities = Array.from(tally.byLayers, (p) => p / tally.weight);
  const probability = Math.max(...probabilities);
  const best = probabilities.indexOf(probability);
  const misfit = Math.sqrt(tally.least / channels);
  const layers = best > LAYERS_MOST || best === 0 || misfit > OFF_CURVE ? null : best;
  const call = { layers, probability, probabilities, misfit };
  if (!measuresThickness(ladder.context) || misfit > OFF_CURVE) return call;
  const thicknessNm = tally.thickness / tally.weight;
  const spread = Math.sqrt(Math.max(0, tally.thicknessSquares / tally.weight - thicknessNm * thicknessNm));
  return { ...call, thicknessNm, thicknessErrorNm: Math.max(spread, ladder.layerThicknessNm / 4) };
}
