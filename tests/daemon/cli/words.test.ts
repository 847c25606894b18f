import { describe, expect, it } from 'vitest';
import { flakeTable } from '../../../daemon/cli/flakeTable.ts';
import { layersText, probabilityText, thicknessText } from '../../../daemon/cli/words.ts';
import type { Flake, LayerCall } from '../../../planner/flakes/types.ts';
import { box, terrace } from '../../planner/flakes/drawn.ts';

/** Protects: what a person reads of a layer number says no more than is known. */
function callOf(by: Readonly<Record<number, number>>, more: Partial<LayerCall> = {}): LayerCall {
  const probabilities = Array.from({ length: 12 }, (_, n) => by[n] ?? 0);
  const probability = Math.max(...probabilities);
  const best = probabilities.indexOf(probability);
  return { layers: best > 10 || best === 0 ? null : best, probability, probabilities, misfit: 0.5, ...more };
}

describe('layers in words', () => {
  it.each([
    [{ 1: 1 }, '1 layer'],
    [{ 4: 1 }, '4 layers'],
    [{ 1: 0.6, 2: 0.4 }, '1 or 2 layers'],
    [{ 1: 0.4, 2: 0.3, 3: 0.3 }, '1 to 3 layers'],
    [{ 2: 0.6, 4: 0.4 }, '2 or 4 layers'],
    [{ 1: 0.4, 3: 0.3, 4: 0.3 }, '1, 3 or 4 layers'],
    [{ 8: 1 }, '7 to 9 layers'],
    [{ 6: 0.5, 7: 0.5 }, '6 or 7 layers'],
    [{ 10: 1 }, '9 layers or more'],
    [{ 8: 0.5, 9: 0.3, 11: 0.2 }, '8 layers or more'],
    [{ 11: 1 }, 'more than 10 layers'],
  ])('%j: %s', (by, text) => {
    expect(layersText(callOf(by))).toBe(text);
  });

  it('off the curve there are none', () => {
    expect(layersText(callOf({ 2: 1 }, { misfit: 6 }))).toBe('off the layer curve');
  });

  it('give nm where thickness is measured', () => {
    const thickness = { nm: 12.34, lowNm: 11.4, highNm: 13.1, weight: 0.88, alternatives: [{ nm: 139.6, errorNm: 3, weight: 0.12 }] };
    expect(layersText(callOf({ 11: 1 }, { thickness }))).toBe('12.3 nm (11.4 to 13.1), or 140 nm (12 %)');
    expect(thicknessText({ nm: 160, lowNm: 99.4, highNm: null, weight: 1, alternatives: [] })).toBe('more than 99 nm');
  });
});

describe('the table of flakes', () => {
  const flake = (call: LayerCall): Flake => {
    const one = { ...terrace(box(0, 0, 12, 10), 0.1), call };
    return { id: 'A-1', chip: 'A', bestTile: 0, tiles: [0], centreUm: { xUm: 6, yUm: 5 }, terraces: [one], verdict: 'flagged', layers: call.layers, usableUm: one.inscribedUm, areaUm2: 120, rank: 40 };
  };
  const row = (call: LayerCall): string => flakeTable([{ flake: flake(call), chipXUm: 100, chipYUm: 200 }]).split('\n')[2] ?? '';

  it('never says that a number is certain', () => {
    expect(row(callOf({ 1: 0.9999 }))).toMatch(/1 layer\s+> 0\.99 /);
    expect(row(callOf({ 1: 0.6, 2: 0.4 }))).toMatch(/1 or 2 layers\s+0\.60 /);
    expect(probabilityText(0.994)).toBe('0.99');
  });

  it('says nm and the weight of the reading for hBN', () => {
    const thickness = { nm: 12.34, lowNm: 11.4, highNm: 13.1, weight: 0.88, alternatives: [] };
    expect(row(callOf({ 11: 1 }, { thickness }))).toMatch(/12\.3 nm \(11\.4 to 13\.1\)\s+0\.88 /);
  });
});
