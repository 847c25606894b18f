import { describe, expect, it } from 'vitest';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { packSamples } from '../../../planner/layers/likelihood.ts';
import { readContrast } from '../../../planner/layers/posterior.ts';
import { mixed, strayCloud, strayLog, strayLogs } from '../../../planner/layers/strays.ts';
import type { ContrastSample, LadderContext } from '../../../planner/layers/types.ts';
import { halogen, idealColourBands, layerCurve } from '../../../planner/optics/index.ts';

/** Protects: dirt alone makes no ladder, dirt beside flakes hides none, and a reading says when it may be no film at all. */

const context: LadderContext = { material: 'graphene', oxideNm: 90, numericalAperture: 0.3, lamp: 'halogen', channels: 3 };
const ERROR = [0.004, 0.004, 0.004];

/** Greys of residue as simulated pictures of it gave them: red, green and blue rise together, in proportions that no film has. */
function residue(count: number): readonly ContrastSample[] {
  return Array.from({ length: count }, (_, i) => {
    const depth = 0.08 + 0.5 * ((i * 0.618) % 1);
    const tint = 1 + 0.5 * ((i * 0.414) % 1);
    return { contrast: [depth, depth * (0.7 + 0.3 * tint), depth * tint * 1.2], contrastError: ERROR };
  });
}

function films(oxideNm: number, layers: readonly number[]): readonly ContrastSample[] {
  const curve = layerCurve({ material: 'graphene', oxideNm, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 20 });
  return layers.map((n) => ({ contrast: curve.contrast[n] ?? [], contrastError: ERROR }));
}

describe('a chip with nothing on it but dirt', () => {
  const seen = residue(60);
  const ladder = fitLadder(context, seen);

  it('leaves the ladder where the tables have it', () => {
    const setting = ladder.hypotheses[0]?.setting;
    expect(Math.abs((setting?.oxideNm ?? 0) / 90 - 1)).toBeLessThan(0.05);
    for (const scale of setting?.scale ?? [9]) expect(Math.abs(Math.log(scale))).toBeLessThan(0.5);
    expect(ladder.strays.share).toBeGreaterThan(0.8);
  });

  it('has hardly a reading that is surely thin', () => {
    const thin = seen.map((s) => readContrast(ladder, s)).filter((call) => call.layers !== null && call.layers <= 4 && call.probability >= 0.9);
    expect(thin.length).toBeLessThanOrEqual(2);
  });
});

describe('flakes among dirt', () => {
  const layers = [1, 1, 2, 1, 3, 2, 4, 5, 2, 3, 6, 1];

  it('are counted all the same', () => {
    const flakes = films(92, layers);
    const ladder = fitLadder(context, [...flakes, ...residue(60)]);
    const read = flakes.map((s) => readContrast(ladder, s));
    expect(read.map((call) => call.layers)).toEqual(layers);
    for (const call of read) expect(call.stray).toBeLessThan(0.1);
  });
});

describe('the density of strays', () => {
  it('is that of a Gaussian, by the closed form for channels that do not depend on each other', () => {
    const strays = { share: 0.5, mean: [0.1, 0.2], root: [[0.1, 0], [0, 0.2]] };
    const gauss = Math.exp(-0.5 * (2 ** 2 + 1 ** 2)) / (2 * Math.PI * 0.1 * 0.2);
    // Half of it, and half of an even density over three contrasts each way.
    expect(strayLog(strays, [0.3, 0.4])).toBeCloseTo(Math.log(0.5 * gauss + 0.5 / 9), 12);
  });

  it('has the mean and the covariance of the samples, widened by 0.05', () => {
    const packed = packSamples(residue(40), 3);
    const { mean, root } = strayCloud(packed);
    const reds = residue(40).map((s) => s.contrast[0] ?? 0);
    const average = reds.reduce((a, b) => a + b, 0) / 40;
    expect(mean[0]).toBeCloseTo(average, 12);
    expect((root[0]?.[0] ?? 0) ** 2).toBeCloseTo(reds.reduce((sum, r) => sum + (r - average) ** 2, 0) / 40 + 0.05 ** 2, 12);
    expect(strayLogs(strayCloud(packed), packed)).toHaveLength(40);
  });

  it('is even where there are too few samples to have a spread', () => {
    expect(strayLog(strayCloud(packSamples(residue(5), 3)), [0.3, 0.3, 0.3])).toBeCloseTo(-3 * Math.log(3), 12);
  });

  it('takes the share of strays that suits best', () => {
    const sure = Float64Array.from({ length: 20 }, (_, i) => (i < 17 ? -2000 : 5));
    expect(mixed(sure, new Float64Array(20)).share).toBe(0.85);
    expect(mixed(new Float64Array(20).fill(5), new Float64Array(20)).share).toBe(0.05);
  });
});
