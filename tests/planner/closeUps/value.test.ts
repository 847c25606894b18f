import { describe, expect, it } from 'vitest';
import { closeUpTerrace, closeUpValue } from '../../../planner/closeUps/index.ts';
import type { BookContext } from '../../../planner/flakes/context.ts';
import type { Terrace } from '../../../planner/flakes/types.ts';

/** Protects: what is unsure, wanted and large is worth a second look most. Laws of our own. */

const context: BookContext = { chip: 'A', material: 'graphene', oxideNm: 290, numericalAperture: 0.3, lamp: 'halogen', whiteBalance: 'mirror', layersFrom: 1, layersTo: 4, leastUsableUm: 4 };

function terrace(probabilities: Readonly<Record<number, number>>, inscribedUm = 12, stray = 0): Terrace {
  const all = Array.from({ length: 12 }, (_, layers) => probabilities[layers] ?? 0);
  const most = Math.max(...all);
  const call = { layers: all.indexOf(most), probability: most * (1 - stray), probabilities: all, stray, misfit: 0.5 };
  const outlineUm = [{ xUm: 0, yUm: 0 }, { xUm: inscribedUm, yUm: 0 }, { xUm: inscribedUm, yUm: inscribedUm }];
  return { outlineUm, areaUm2: inscribedUm ** 2, contrast: [0.1], contrastError: [0.01], edgeWidthRatio: 1, unevenness: 1, inscribedUm, inscribedCentreUm: { xUm: inscribedUm / 2, yUm: 1 }, saturatedShare: 0, call };
}

const valueOf = (one: Terrace, verdict: 'flagged' | 'thick' | 'rejected' = 'flagged'): number => closeUpValue({ terraces: [one], verdict }, context);

describe('what a close-up is worth', () => {
  it('is more where the number is unsure, but wanted either way', () => {
    expect(valueOf(terrace({ 1: 0.55, 2: 0.45 }))).toBeGreaterThan(2 * valueOf(terrace({ 1: 0.99, 2: 0.01 })));
  });

  it('is more where it is likelier to be wanted', () => {
    expect(valueOf(terrace({ 4: 0.6, 5: 0.4 }))).toBeGreaterThan(valueOf(terrace({ 4: 0.4, 5: 0.6 })));
    expect(valueOf(terrace({ 1: 0.6, 2: 0.4 }))).toBeGreaterThan(valueOf(terrace({ 1: 0.6, 2: 0.4 }, 12, 0.5)) / 2);
  });

  it('grows with size, and is nothing below the size that is of use', () => {
    const values = [5, 10, 20, 40].map((um) => valueOf(terrace({ 2: 1 }, um)));
    expect(values).toEqual([...values].sort((a, b) => a - b));
    expect(valueOf(terrace({ 2: 1 }, 3))).toBe(0);
  });

  it('is nothing for what is no flake, or surely too thick', () => {
    expect(valueOf(terrace({ 1: 1 }), 'rejected')).toBe(0);
    expect(valueOf(terrace({ 11: 1 }), 'thick')).toBe(0);
    expect(valueOf(terrace({ 4: 0.3, 5: 0.7 }), 'thick')).toBeGreaterThan(0);
  });

  it('is for the terrace that counts', () => {
    const [thick, thin] = [terrace({ 8: 1 }, 30), terrace({ 1: 1 }, 9)];
    expect(closeUpTerrace({ terraces: [thick, thin] }, context)).toBe(thin);
  });
});
