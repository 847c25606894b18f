import { describe, expect, it } from 'vitest';
import { Pacing } from '../../../daemon/run/pacing.ts';
import type { Clock } from '../../../drivers/interfaces/index.ts';

/** Protects: what the page says is left follows the plan at first and the night's own pace then, and holds what comes after the tiles. */

/** 100 tiles forecast at 1 s each, on a clock that is set by hand. */
function pacing(): { readonly pace: Pacing; readonly at: (ms: number) => void } {
  let nowMs = 0;
  const clock: Clock = { now: () => nowMs, sleep: async () => undefined, track: async (operation) => operation };
  return { pace: new Pacing(clock, 100, 100), at: (ms) => (nowMs = ms) };
}

describe('the time left', () => {
  it('is the forecast before anything is known, with what comes after the tiles', () => {
    expect(pacing().pace.leftS(0, 40)).toBe(140);
  });

  it('follows the pace of the tiles, for what comes after them too: twice as slow, twice as long', () => {
    const { pace, at } = pacing();
    at(20_000);
    expect(pace.leftS(10, 40)).toBeCloseTo(2 * (90 + 40), 9);
  });

  it('does not grow while no tile ends: after the last one only what comes then is left', () => {
    const { pace, at } = pacing();
    at(200_000);
    expect(pace.leftS(100, 40)).toBeCloseTo(80, 9);
    at(260_000);
    expect(pace.leftS(100, 10)).toBeCloseTo(20, 9);
    expect(pace.leftS(100, 0)).toBe(0);
  });

  it('counts from a resume on: what was done before says nothing about the pace now', () => {
    const { pace, at } = pacing();
    at(1_000_000);
    pace.begin(50);
    expect(pace.leftS(50, 0)).toBe(50);
    at(1_005_000);
    expect(pace.leftS(60, 0)).toBeCloseTo(20, 9);
  });
});
