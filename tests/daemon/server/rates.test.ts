import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { RateMeter } from '../../../daemon/server/rates.ts';

/** Protects: nobody comes more often than the rate allows, nobody is locked out for ever, and memory stays bounded whoever asks. */

describe('a meter of rates', () => {
  it('lets a burst through, then one each so often, and says how long to wait', () => {
    const meter = new RateMeter({ burst: 3, perS: 0.5 });
    // By hand: three at once, the fourth when 2 s have passed.
    expect([0, 0, 0, 0].map((ms) => meter.take('a', ms))).toEqual([0, 0, 0, 2000]);
    expect(meter.take('a', 1500)).toBe(500);
    expect(meter.take('a', 2000)).toBe(0);
    expect(meter.take('a', 2000)).toBe(2000);
    expect(meter.take('b', 2000)).toBe(0);
  });

  it('never lets more through in any stretch of time than burst and rate allow', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 400 }), { maxLength: 200 }), (gapsMs) => {
        const meter = new RateMeter({ burst: 5, perS: 10 });
        let nowMs = 0;
        const passed: number[] = [];
        for (const gap of gapsMs) {
          nowMs += gap;
          if (meter.take('a', nowMs) === 0) passed.push(nowMs);
        }
        passed.forEach((from, i) => passed.slice(i).forEach((to, n) => expect(n + 1).toBeLessThanOrEqual(5 + (to - from) / 100 + 1e-6)));
      }),
    );
  });

  it('keeps its word: whoever waits as long as was said gets through, also when the clock was set back meanwhile', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -1_000_000, max: 5000 }), { maxLength: 100 }), (stepsMs) => {
        const meter = new RateMeter({ burst: 4, perS: 2 });
        let nowMs = 1e12;
        for (const step of stepsMs) {
          nowMs += step;
          const waitMs = meter.take('a', nowMs);
          expect(waitMs).toBeLessThanOrEqual(500);
          if (waitMs > 0) expect(meter.take('a', nowMs + waitMs)).toBe(0);
          nowMs += waitMs;
        }
      }),
    );
  });

  it('remembers a bounded number of keys: the quiet ones are forgotten, and the last of a crowd share a rate', () => {
    const meter = new RateMeter({ burst: 1, perS: 1 }, 10);
    for (let i = 0; i < 10; i += 1) expect(meter.take(`k${i}`, 0)).toBe(0);
    expect(meter.take('one more', 0)).toBe(0);
    expect(meter.take('and another', 0)).toBeGreaterThan(0);
    expect(meter.size).toBe(11);
    expect(meter.take('later', 5000)).toBe(0);
    expect(meter.size).toBe(1);
  });
});
