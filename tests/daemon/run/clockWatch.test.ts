import { describe, expect, it } from 'vitest';
import { ClockWatch } from '../../../daemon/run/clockWatch.ts';
import type { Clock } from '../../../drivers/interfaces/index.ts';

/** Protects: a clock that is set is told once, and one that a time server keeps is not. Laws of our own. */

function settable() {
  const state = { steadyMs: 1e12, aheadMs: 0 };
  const clock: Clock = { now: () => state.steadyMs, timeOfDay: () => state.steadyMs + state.aheadMs, sleep: async () => undefined, track: (operation) => operation };
  return { state, clock };
}

describe('a clock that is set', () => {
  it.each([
    [3_600_000, 'forwards by 60 min'],
    [-7_500_000, 'backwards by 2 h 5 min'],
    [45_000, 'forwards by 45 s'],
  ])('is told once: by %i ms', (byMs, words) => {
    const { state, clock } = settable();
    const watch = new ClockWatch(clock);
    state.steadyMs += 1e7;
    expect(watch.look()).toBeUndefined();
    state.aheadMs += byMs;
    expect(watch.look()).toContain(words);
    expect(watch.look()).toBeUndefined();
  });

  it('is not told of a second or two in a night, nor where there is no clock to be set', () => {
    const { state, clock } = settable();
    const watch = new ClockWatch(clock);
    state.aheadMs = 2000;
    expect(watch.look()).toBeUndefined();
    const virtual: Clock = { now: () => state.steadyMs, sleep: async () => undefined, track: (operation) => operation };
    expect(new ClockWatch(virtual).look()).toBeUndefined();
  });
});
