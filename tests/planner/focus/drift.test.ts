import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addDriftCheck, afterMapping, beginDrift, checkDueMs, driftAllowedUm, driftErrorUm, plannedChecks, predictDrift } from '../../../planner/focus/drift.ts';
import { noiseGenerator } from '../frames/wavePicture.ts';

/** Protects: drift is followed within what is allowed, a jump is told from drift, and the schedule of checks is known before. */

const HOUR_MS = 3_600_000;
/** The drift of the bar: an exponential warm-up of 5 um with a time constant of 1 h, and 2 um/h. */
const bar = (ms: number): number => -5 * (1 - Math.exp(-ms / HOUR_MS)) - (2 * ms) / HOUR_MS;

/** Follows a drift by the schedule for some hours; resolves with the largest error at any second, and the checks. */
function follow(drift: (ms: number) => number, hours: number, depthOfFieldUm: number, errorUm: number, seed: number): { worstUm: number; checks: number } {
  const next = noiseGenerator(seed);
  const noise = (): number => errorUm * (next() + next() + next() - 1.5) * 2;
  let state = beginDrift(0, errorUm);
  let dueMs = checkDueMs(state, depthOfFieldUm);
  let [worstUm, checks] = [0, 0];
  for (let ms = 0; ms < hours * HOUR_MS; ms += 5000) {
    if (ms >= dueMs) {
      ({ state } = addDriftCheck(state, { atMs: ms, offsetUm: drift(ms) + noise(), errorUm }, depthOfFieldUm / 4));
      dueMs = checkDueMs(state, depthOfFieldUm);
      checks++;
    }
    worstUm = Math.max(worstUm, Math.abs(predictDrift(state, ms).offsetUm - drift(ms)));
  }
  return { worstUm, checks };
}

describe('following drift', () => {
  it.each([['10x/0.30', 5.83, 0.12], ['20x/0.45', 2.43, 0.06]] as const)('stays within a quarter of the depth of field through a night of 8 h: %s', (_, depthOfFieldUm, errorUm) => {
    for (let seed = 1; seed <= 20; seed++) {
      const { worstUm, checks } = follow(bar, 8, depthOfFieldUm, errorUm, seed);
      expect(worstUm).toBeLessThan(depthOfFieldUm / 4);
      // A check takes about a second: 150 in 8 h are half a per cent of the night.
      expect(checks).toBeLessThan(150);
    }
  });

  it('learns a steady rate: after ten checks a minute apart it is right within its error, two times out of three or more', () => {
    let within = 0;
    for (let seed = 1; seed <= 100; seed++) {
      const next = noiseGenerator(seed);
      let state = beginDrift(0, 0.1);
      for (let n = 1; n <= 10; n++) ({ state } = addDriftCheck(state, { atMs: n * 60_000, offsetUm: (4 * n) / 60 + 0.1 * (next() + next() + next() - 1.5) * 2, errorUm: 0.1 }, 10));
      if (Math.abs(state.rateUmPerH - 4) <= Math.sqrt(state.rateVariance)) within++;
    }
    expect(within).toBeGreaterThan(60);
  });

  it('tells a jump of 8 um from drift, takes it over at once and keeps the rate', () => {
    let state = beginDrift(0, 0.1);
    for (let n = 1; n <= 5; n++) ({ state } = addDriftCheck(state, { atMs: n * 120_000, offsetUm: n * 0.2, errorUm: 0.1 }, 1.5));
    const { rateUmPerH } = state;
    const jumped = addDriftCheck(state, { atMs: 720_000, offsetUm: 1.2 - 8, errorUm: 0.1 }, 1.5);
    expect(jumped.stepUm).toBeCloseTo(-8, 0);
    expect(jumped.state.offsetUm).toBeCloseTo(-6.8, 9);
    expect(jumped.state.rateUmPerH).toBe(rateUmPerH);
    expect(addDriftCheck(state, { atMs: 720_000, offsetUm: 1.3, errorUm: 0.1 }, 1.5).stepUm).toBeUndefined();
  });

  it('starts again at nothing with a new surface, and still knows the rate', () => {
    let state = beginDrift(0, 0.1);
    for (let n = 1; n <= 5; n++) ({ state } = addDriftCheck(state, { atMs: n * 300_000, offsetUm: n * 0.5, errorUm: 0.1 }, 1.5));
    const after = afterMapping(state, 1_600_000, 0.05);
    expect(after.offsetUm).toBe(0);
    expect(driftErrorUm(after)).toBeCloseTo(0.05, 9);
    expect(after.rateUmPerH).toBe(state.rateUmPerH);
  });
});

describe('the schedule of checks', () => {
  it('comes before the error passes what is allowed, unless checks would follow one another too fast (any state)', () => {
    const positive = (max: number) => fc.double({ min: 0.001, max, noNaN: true });
    fc.assert(fc.property(positive(0.3), positive(10), positive(8), (errorUm, rate, depthOfFieldUm) => {
      const state = { ...beginDrift(0, errorUm), rateVariance: rate ** 2 };
      const dueMs = checkDueMs(state, depthOfFieldUm);
      expect(dueMs).toBeGreaterThanOrEqual(60_000);
      expect(dueMs).toBeLessThanOrEqual(1_800_000);
      if (dueMs > 60_000) expect(driftErrorUm(predictDrift(state, dueMs))).toBeLessThanOrEqual(driftAllowedUm(depthOfFieldUm) * 1.000001);
    }));
  });

  it('is known before: as many checks as are then made, with any drift that is no jump', () => {
    const errorUm = 0.1;
    const planned = plannedChecks(2 * HOUR_MS, 2.43, errorUm).checks;
    const { checks } = follow(bar, 2, 2.43, errorUm, 7);
    expect(Math.abs(planned - checks)).toBeLessThanOrEqual(1);
    expect(plannedChecks(1000, 2.43, errorUm).checks).toBe(0);
  });
});
