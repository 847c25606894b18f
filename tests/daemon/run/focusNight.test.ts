import { describe, expect, it, vi } from 'vitest';
import { runFocusNight } from '../../acceptance/focusRun.ts';
import { slowMachineMs } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs });

/** Protects: frames are in focus over their whole area through a night with drift, a jump, tilt, bow and blank places. The bar over 200 chips is tests/acceptance/focusNights.mjs. */

describe('a night in focus', () => {
  it('has 97 of 100 frames of two chips in focus at 10x/0.30, the jump of 8 um on one of them included', async () => {
    const night = await runFocusNight({ seed: 6, objective: '10x/0.30', chips: 2, blankShare: 0.3 });
    expect(night.frames).toBe(448);
    expect(night.inFocus / night.frames).toBeGreaterThan(0.97);
    expect(night.events.join('\n')).toMatch(/jumped by (7|8)/);
  });

  it('takes frames of a tilted chip at several heights, says so, and names what to level', async () => {
    // A seed whose chip is tilted enough.
    const divided = await runFocusNight({ seed: 12, objective: '20x/0.45', chips: 1, blankShare: 0 });
    expect(divided.divided).toBeGreaterThan(50);
    expect(divided.events.join('\n')).toMatch(/mrad along y.* a whole frame bears.*tiles are taken at 2/);
    expect(divided.inFocus / divided.frames).toBeGreaterThan(0.97);
  });

  it('is the same night for the same seed', async () => {
    const make = { seed: 21, objective: '10x/0.30', chips: 1, blankShare: 0.3 } as const;
    const [one, other] = [await runFocusNight(make), await runFocusNight(make)];
    expect(one.worst).toEqual(other.worst);
    expect(one.events).toEqual(other.events);
  });
});
