import { describe, expect, it } from 'vitest';
import { agreementOf, cohenKappa, wilsonInterval, type JudgedTwice } from '../../../planner/secondJudging/agreement.ts';

/** Protects: how well a person agrees with himself or herself is told with the right interval. Truth: SciPy, Newcombe's published intervals, a table worked by hand. */

describe('the interval of a share', () => {
  it.each([
    // scipy.stats.binomtest(k, n).proportion_ci(0.95, method='wilson') of SciPy 1.17.1.
    [8, 9, 0.565, 0.980109],
    [0, 20, 0, 0.161125],
    [20, 20, 0.838875, 1],
    [3, 7, 0.15822, 0.749542],
    [50, 100, 0.403832, 0.596168],
  ])('of %i in %i is that of SciPy', (count, of, low, high) => {
    const interval = wilsonInterval(count, of);
    expect(interval.low).toBeCloseTo(low, 5);
    expect(interval.high).toBeCloseTo(high, 5);
  });

  it.each([
    // Newcombe 1998, Statistics in Medicine 17, 857, table I, score method without continuity correction (from memory).
    [81, 263, 0.2553, 0.3662],
    [15, 148, 0.0624, 0.1605],
    [1, 29, 0.0061, 0.1718],
  ])('of %i in %i is the published one', (count, of, low, high) => {
    const interval = wilsonInterval(count, of);
    expect(interval.low).toBeCloseTo(low, 4);
    expect(interval.high).toBeCloseTo(high, 4);
  });
});

function pairs(table: readonly (readonly [first: number, second: number, count: number])[]): JudgedTwice[] {
  return table.flatMap(([first, second, count]) => Array.from({ length: count }, (_, i) => ({ first, second, apartMs: 60_000 * (i + 1) })));
}

describe('agreement', () => {
  it('beyond chance is what a table worked by hand gives', () => {
    // 20 and 15 alike of 50, margins 25/25 and 30/20: po 0.70, pe 0.50, kappa 0.40.
    expect(cohenKappa(pairs([[1, 1, 20], [1, 2, 5], [2, 1, 10], [2, 2, 15]]))).toBeCloseTo(0.4, 12);
    expect(cohenKappa(pairs([[1, 1, 6], [2, 2, 5], [3, 3, 4]]))).toBe(1);
    expect(cohenKappa(pairs([[2, 2, 12]]))).toBeUndefined();
  });

  it('is told with its interval, and beyond chance only where there are enough', () => {
    expect(agreementOf([])).toBeUndefined();
    const few = agreementOf(pairs([[1, 1, 5], [2, 2, 3], [2, 3, 1]]));
    expect(few).toMatchObject({ pairs: 9, alike: 8 });
    expect(few?.kappa).toBeUndefined();
    expect(agreementOf(pairs([[1, 1, 5], [2, 2, 5], [2, 3, 1]]))?.kappa).toBeGreaterThan(0.7);
    expect(agreementOf(pairs([[1, 1, 3]]))?.apartMs).toBe(120_000);
  });
});
