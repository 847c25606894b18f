import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decimalsFor, duration, figure, length, probability, roundBelow, roundLength, signedPercent, timeOfDay, withError, withUnit } from '../../ui/format.ts';
import { texts } from '../../ui/texts.ts';
import { flakeView, terrace } from './support.ts';

/** Spaces as plain ones, so that the checks can be read. */
const plain = (text: string): string => text.replace(/[\u00a0\u2009]/g, ' ');

// How values are written: SI Brochure, 9th edition (2019), sections 5.4.3 (space before the unit) and 5.4.4 (thin space between
// groups of three digits; "when there are only four digits ... it is customary not to use a space"). The true minus is common typographic practice.
describe('numbers', () => {
  it('group thousands from five digits on, with a thin space, and have a true minus', () => {
    expect(figure(1234)).toBe('1234');
    expect(figure(12_345)).toBe('12\u2009345');
    expect(figure(1_234_567.25, 1)).toBe('1\u2009234\u2009567.3');
    expect(figure(-3.14, 1)).toBe('\u22123.1');
    expect(figure(-0.001, 1)).toBe('0.0');
    expect(withUnit(41, 'µm')).toBe('41\u00a0µm');
  });

  // One significant figure of the uncertainty, two when it begins with 1: common practice in the teaching laboratory, no source.
  it('show no digit that the uncertainty does not bear', () => {
    expect(plain(withError(12.437, 0.63, 'µm'))).toBe('12.4 ± 0.6 µm');
    expect(plain(withError(12.437, 0.13, 'µm'))).toBe('12.44 ± 0.13 µm');
    expect(plain(withError(1084.3, 24, 'µm²'))).toBe('1084 ± 24 µm²');
    expect(plain(withError(5, 0, 'µm'))).toBe('5 ± 0 µm');
    fc.assert(fc.property(fc.double({ min: 1e-4, max: 9.4, noNaN: true }), (error) => {
      const shown = Number(error.toFixed(decimalsFor(error)));
      expect(Math.abs(shown - error)).toBeLessThanOrEqual(0.27 * error);
    }));
  });

  it('name lengths in um and mm', () => {
    expect([8.94, 850, 999.4, 999.6, 3200, 12_400].map((um) => plain(length(um)))).toEqual(['8.9 µm', '850 µm', '999 µm', '1.00 mm', '3.20 mm', '12.4 mm']);
    expect([0.5, 1, 20, 500, 1000, 5000].map((um) => plain(roundLength(um)))).toEqual(['0.5 µm', '1 µm', '20 µm', '500 µm', '1 mm', '5 mm']);
  });

  it('never claim certainty', () => {
    expect([0.5, 0.985, 0.996, 1, 0.001].map(probability)).toEqual(['0.50', '0.98', 'above 0.99', 'above 0.99', 'below 0.01']);
  });

  it('sign per cent and not zero', () => {
    expect([0.05, -0.123, 0].map((share) => plain(signedPercent(share)))).toEqual(['+5 %', '−12 %', '0 %']);
  });

  it('tell times', () => {
    expect([7.4, 89, 90, 754, 5400, 12_000].map((s) => plain(duration(s)))).toEqual(['7 s', '89 s', '2 min', '13 min', '1 h 30 min', '3 h 20 min']);
    const ms = new Date(2026, 2, 3, 4, 40, 9).getTime();
    expect([timeOfDay(ms), timeOfDay(ms, true)]).toEqual(['04:40', '04:40:09']);
  });

  it('round steps are 1, 2 or 5 times a power of ten, no more than asked and more than two fifths of it', () => {
    fc.assert(fc.property(fc.double({ min: 1e-3, max: 1e6, noNaN: true }), (most) => {
      const step = roundBelow(most);
      const mantissa = step / 10 ** Math.floor(Math.log10(step) + 1e-9);
      expect([1, 2, 5].some((m) => Math.abs(m - mantissa) < 1e-6)).toBe(true);
      expect(step).toBeLessThanOrEqual(most * (1 + 1e-6));
      expect(step).toBeGreaterThan(most * 0.399);
    }));
  });
});

describe('findings in words', () => {
  it('name layers, terraces and doubt', () => {
    expect(texts.finding(flakeView('a', 1, 1).flake)).toBe('One layer');
    expect(texts.finding(flakeView('a', null, 1).flake)).toBe('Too thick to count');
    expect(texts.finding({ ...flakeView('a', 1, 1).flake, terraces: [terrace(1), terrace(3)] })).toBe('One layer, with a three-layer terrace');
    const call = { layers: 2, probability: 0.8, probabilities: [0, 0, 0.8, 0.2, 0, 0, 0, 0, 0, 0, 0, 0], misfit: 1 };
    expect(texts.finding({ ...flakeView('a', 2, 1).flake, terraces: [terrace(2, [0.1], { call })] })).toBe('2 or 3 layers');
  });
});
