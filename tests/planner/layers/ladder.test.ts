import fc from 'fast-check';
import { beforeAll, describe, expect, it } from 'vitest';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { LAYERS_MOST } from '../../../planner/layers/limits.ts';
import { readContrast } from '../../../planner/layers/posterior.ts';
import type { ContrastSample, Ladder, LadderContext } from '../../../planner/layers/types.ts';
import { constantIndex, halogen, idealColourBands, layerCurve } from '../../../planner/optics/index.ts';
import type { Film } from '../../../planner/optics/index.ts';

const context: LadderContext = { material: 'graphene', oxideNm: 285, numericalAperture: 0.3, lamp: 'halogen', channels: 3 };

/** The film that Ni et al. 2007 fitted (from memory): 2.0 - 1.1i at 0.335 nm a layer. Contrasts are a third below the table of the ladder. */
const fitted: Film = { table: constantIndex('ni2007', { n: 2, k: 1.1 }), layerThicknessNm: 0.335 };

function samples(oxideNm: number, layers: readonly number[], film: Film = fitted): readonly ContrastSample[] {
  const curve = layerCurve({ material: film, oxideNm, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 20 });
  return layers.map((n, i) => ({ contrast: (curve.contrast[n] ?? []).map((c, k) => c + 0.002 * Math.sin(7 * i + 3 * k)), contrastError: [0.002, 0.002, 0.002] }));
}

describe('the ladder', () => {
  it.each([276, 285, 294])('finds whole layer numbers of a film from another table on %i nm of a nominal 285', (oxideNm) => {
    const layers = [1, 1, 1, 2, 2, 3, 4, 4, 5, 6, 7, 9, 11];
    const seen = samples(oxideNm, layers);
    const ladder = fitLadder(context, seen);
    expect(seen.map((s) => readContrast(ladder, s).layers)).toEqual(layers.map((n) => (n > LAYERS_MOST ? null : n)));
    // With another table the oxide is only known to the five per cent that wafers differ by.
    expect(Math.abs((ladder.hypotheses[0]?.setting.oxideNm ?? 0) - oxideNm)).toBeLessThan(0.05 * 285);
  });

  it('does not take every second rung when only even layer numbers were found', () => {
    const layers = [2, 2, 4, 4, 6, 8, 2, 4];
    // Blake et al. 2007 (from memory): 2.6 - 1.3i, 0.34 nm. Nearer to the table than twice or half as dark.
    const seen = samples(287, layers, { table: constantIndex('blake2007', { n: 2.6, k: 1.3 }), layerThicknessNm: 0.34 });
    const read = seen.map((s) => readContrast(fitLadder(context, seen), s).layers);
    expect(read).toEqual(layers);
  });

  it('knows more after the flakes than before them', () => {
    const before = fitLadder(context, []);
    const after = fitLadder(context, samples(285, [1, 1, 2, 3, 4, 5, 6]));
    const [probe] = samples(285, [4]);
    expect(probe).toBeDefined();
    if (!probe) return;
    expect(readContrast(after, probe).probability).toBeGreaterThan(0.99);
    expect(readContrast(before, probe).probability).toBeLessThan(0.99);
  });

  it('reads hBN in nm', () => {
    const hbn: LadderContext = { ...context, material: 'hbn', oxideNm: 90 };
    const curve = layerCurve({ material: 'hbn', oxideNm: 91, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 200 });
    const layers = [10, 20, 33, 60, 90, 120, 150];
    const seen = layers.map((n): ContrastSample => ({ contrast: curve.contrast[n] ?? [], contrastError: [0.003, 0.003, 0.003] }));
    const ladder = fitLadder(hbn, seen);
    seen.forEach((s, i) => expect(Math.abs((readContrast(ladder, s).thicknessNm ?? 0) - (layers[i] ?? 0) * 0.333)).toBeLessThan(3));
  });

  it('is the same for the same samples', () => {
    const seen = samples(280, [1, 2, 3]);
    expect(fitLadder(context, seen)).toEqual(fitLadder(context, seen));
  });
});

describe('a reading', () => {
  let ladder: Ladder;
  beforeAll(() => {
    ladder = fitLadder(context, samples(285, [1, 1, 2, 3, 4, 6]));
  });
  const contrast = fc.tuple(...[0, 1, 2].map(() => fc.double({ min: -2, max: 1, noNaN: true })));

  it('gives probabilities that add up to one, whatever it is shown', () => {
    fc.assert(fc.property(contrast, fc.double({ min: 0.0005, max: 0.1, noNaN: true }), (c, error) => {
      const call = readContrast(ladder, { contrast: c, contrastError: [error, error, error] });
      expect(call.probabilities).toHaveLength(LAYERS_MOST + 2);
      expect(call.probabilities.every((p) => p >= 0 && p <= 1 + 1e-9)).toBe(true);
      expect(call.probabilities.reduce((sum, p) => sum + p, 0)).toBeCloseTo(1, 9);
      expect(call.probability).toBeCloseTo(Math.max(...call.probabilities) * (1 - (call.stray ?? 0)), 12);
      expect(call.stray).toBeGreaterThanOrEqual(0);
      expect(call.stray).toBeLessThanOrEqual(1);
    }));
  });

  it('counts more layers for a darker flake', () => {
    const rungs = ladder.hypotheses[0]?.rungs;
    const read = [1, 2, 3, 4, 5, 6].map((n) => readContrast(ladder, { contrast: [0, 1, 2].map((c) => rungs?.contrast[n * 3 + c] ?? 0), contrastError: [0.002, 0.002, 0.002] }).layers);
    expect(read).toEqual([1, 2, 3, 4, 5, 6]);
  });

  it('is less sure of a noisier contrast', () => {
    const [probe] = samples(285, [2]);
    const sure = (error: number): number => readContrast(ladder, { contrast: probe?.contrast ?? [], contrastError: [error, error, error] }).probability;
    expect(sure(0.002)).toBeGreaterThan(sure(0.04));
    expect(sure(0.04)).toBeGreaterThan(sure(0.15));
  });

  it('calls a colour that no thickness has off the curve, and does not count it', () => {
    const call = readContrast(ladder, { contrast: [-0.3, 0.3, 0.3], contrastError: [0.003, 0.003, 0.003] });
    expect(call.layers).toBeNull();
    expect(call.misfit).toBeGreaterThan(4);
  });

  it('leaves thick graphite uncounted but on the curve', () => {
    // Thick graphite on 290 nm is brighter: C = -0.33 at 40 layers and 550 nm (optics-examples.json, e09).
    const thick = layerCurve({ material: 'graphene', oxideNm: 285, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 60 }).contrast[60] ?? [];
    const call = readContrast(ladder, { contrast: thick, contrastError: [0.003, 0.003, 0.003] });
    expect(call.layers).toBeNull();
    expect(call.misfit).toBeLessThan(4);
    expect(call.probabilities[LAYERS_MOST + 1]).toBeGreaterThan(0.99);
  });
});
