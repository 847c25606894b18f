import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { layerRange, numbersHolding } from '../../../planner/layers/range.ts';
import type { LayerCall } from '../../../planner/flakes/types.ts';

/** A call with these probabilities by layer number; the rest is 0. */
function callOf(by: Readonly<Record<number, number>>, more: Partial<LayerCall> = {}): LayerCall {
  const probabilities = Array.from({ length: 12 }, (_, n) => by[n] ?? 0);
  const probability = Math.max(...probabilities);
  const best = probabilities.indexOf(probability);
  return { layers: best > 10 || best === 0 ? null : best, probability, probabilities, misfit: 0.5, ...more };
}

describe('the numbers that hold 95 %', () => {
  it('are the fewest, whatever the probabilities', () => {
    fc.assert(fc.property(fc.array(fc.double({ min: 0.001, max: 1, noNaN: true }), { minLength: 12, maxLength: 12 }), (raw) => {
      const total = raw.reduce((a, b) => a + b, 0);
      const p = raw.map((v) => v / total);
      const among = numbersHolding(p);
      const held = (numbers: readonly number[]): number => numbers.reduce((sum, n) => sum + (p[n] ?? 0), 0);
      expect(among).toEqual([...among].sort((a, b) => a - b));
      expect(held(among)).toBeGreaterThan(0.95 - 1e-9);
      // As many others, the largest there are, hold no more; one fewer does not reach it.
      const sorted = [...p].sort((a, b) => b - a);
      expect(sorted.slice(0, among.length - 1).reduce((a, b) => a + b, 0)).toBeLessThan(0.95 + 1e-9);
      expect(held(among)).toBeCloseTo(sorted.slice(0, among.length).reduce((a, b) => a + b, 0), 9);
    }));
  });
});

describe('a range of layers', () => {
  it('is one number where that is sure, and thin enough to be known exactly', () => {
    expect(layerRange(callOf({ 1: 0.97, 2: 0.03 }))).toEqual({ from: 1, to: 1, numbers: [1] });
    expect(layerRange(callOf({ 6: 1 }))).toEqual({ from: 6, to: 6, numbers: [6] });
  });

  it('names all that may be', () => {
    expect(layerRange(callOf({ 1: 0.7, 2: 0.3 }))).toEqual({ from: 1, to: 2, numbers: [1, 2] });
    expect(layerRange(callOf({ 2: 0.6, 4: 0.4 }))).toEqual({ from: 2, to: 4, numbers: [2, 4] });
  });

  it('never claims one number above six', () => {
    fc.assert(fc.property(fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: 12, maxLength: 12 }), (raw) => {
      const range = layerRange(callOf(Object.fromEntries(raw.map((p, n) => [n, p ** 8 + 1e-9]))));
      expect(range !== undefined && range.from === range.to && range.from > 6).toBe(false);
    }));
    expect(layerRange(callOf({ 8: 1 }))).toEqual({ from: 7, to: 9, numbers: [7, 8, 9] });
    expect(layerRange(callOf({ 10: 1 }))).toEqual({ from: 9, to: null, numbers: [9, 10] });
  });

  it('is open above where thicker ones may be, and none off the curve', () => {
    expect(layerRange(callOf({ 9: 0.5, 10: 0.2, 11: 0.3 }))).toEqual({ from: 9, to: null, numbers: [9, 10] });
    expect(layerRange(callOf({ 11: 1 }))).toEqual({ from: 11, to: null, numbers: [] });
    expect(layerRange(callOf({ 3: 1 }, { misfit: 5 }))).toBeUndefined();
  });

  it('follows what a call says of itself', () => {
    expect(layerRange(callOf({ 3: 1 }, { among: [3, 4] }))).toEqual({ from: 3, to: 4, numbers: [3, 4] });
  });
});
