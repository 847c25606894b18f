import { describe, expect, it } from 'vitest';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { Faults } from '../../simulators/devices/faults.ts';
import { createSimulatedFocus, USUAL_FOCUS } from '../../simulators/devices/simulatedFocus.ts';
import { createSimulatedStage, USUAL_STAGE } from '../../simulators/devices/simulatedStage.ts';

/** Protects: a simulated night drifts as the bars of focus ask: 5 um of warm-up with a time constant of 1 h, 2 um/h, one step of 8 um, 3 um aside. */

const HOUR_MS = 3_600_000;

describe('drift through a night', () => {
  it('of the objective is the closed form of warm-up and steady drift, and the step at its time', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const behaviour = { ...USUAL_FOCUS, repeatabilityUm: 0, hysteresisUm: 0, warmUpUm: 5, driftUmPerH: 2, stepUm: 8, stepAfterMs: 1.5 * HOUR_MS };
    const { trueUm } = createSimulatedFocus(clock, 1, new Faults(clock), behaviour);
    const begunUm = trueUm();
    const sunkUm: number[] = [];
    for (const hours of [0.5, 0.5, 0.499, 0.002, 0.999]) {
      await clock.sleep(hours * HOUR_MS);
      sunkUm.push(begunUm - trueUm());
    }
    const smooth = (h: number): number => 5 * (1 - Math.exp(-h)) + 2 * h;
    [smooth(0.5), smooth(1), smooth(1.499), smooth(1.501) + 8, smooth(2.5) + 8].forEach((um, i) => expect(sunkUm[i]).toBeCloseTo(um, 6));
  });

  it('of the sample goes one way, two thirds of it in the first hour; none unless asked for', async () => {
    for (const driftUm of [3, 0]) {
      const clock = new VirtualClock({ startMs: 0 });
      const { trueUm } = createSimulatedStage(clock, 5, new Faults(clock), { ...USUAL_STAGE, repeatabilityUm: 0, driftUm });
      const begun = trueUm();
      await clock.sleep(HOUR_MS);
      const after = trueUm();
      await clock.sleep(9 * HOUR_MS);
      const end = trueUm();
      expect(Math.hypot(after.xUm - begun.xUm, after.yUm - begun.yUm)).toBeCloseTo(driftUm * (1 - Math.exp(-1)), 2);
      expect(Math.hypot(end.xUm - begun.xUm, end.yUm - begun.yUm)).toBeCloseTo(driftUm * (1 - Math.exp(-10)), 2);
    }
  });
});
