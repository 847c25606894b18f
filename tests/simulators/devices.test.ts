import { describe, expect, it } from 'vitest';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { courseOver, withPlay } from '../../simulators/devices/carriage.ts';
import { Faults } from '../../simulators/devices/faults.ts';
import { createSimulatedFocus, USUAL_FOCUS } from '../../simulators/devices/simulatedFocus.ts';
import { createSimulatedStage, USUAL_STAGE, type StageBehaviour } from '../../simulators/devices/simulatedStage.ts';
import { meanSample } from './pictures.ts';
import { smallMicroscope } from './smallMicroscope.ts';

function openStage(change: Partial<StageBehaviour> = {}, seed = 3) {
  const clock = new VirtualClock({ startMs: 0 });
  const faults = new Faults(clock);
  return { clock, faults, ...createSimulatedStage(clock, seed, faults, { ...USUAL_STAGE, ...change }) };
}

const exact = { repeatabilityUm: 0, backlashUm: 0, settleMs: 0 };

describe('simulated stage', () => {
  it('takes the time of uniformly accelerated motion', async () => {
    const { stage, clock } = openStage({ ...exact, maxSpeedUmPerS: 10_000, accelerationUmPerS2: 100_000 });
    await stage.moveTo({ xUm: 20_000, yUm: 10_000 });
    // 10 mm at 10 mm/s with ramps of 0.1 s: d/v + v/a = 1.1 s.
    expect(clock.now()).toBeCloseTo(1100, 6);
    await stage.moveTo({ xUm: 20_000, yUm: 10_100 });
    // 100 um never reach top speed: 2 sqrt(d/a) = 63.25 ms.
    expect(clock.now() - 1100).toBeCloseTo(2000 * Math.sqrt(100 / 100_000), 6);
  });

  it('keeps its acceleration and jerk within the limits, and ends at rest where it should (differences of small steps)', () => {
    const limits = { maxSpeedUmPerS: 1000, accelerationUmPerS2: 5000, jerkUmPerS3: 40_000 };
    for (const wayUm of [1, 60, 2000]) {
      const course = courseOver(wayUm, limits);
      const stepS = 1e-3;
      const at = (s: number) => wayUm * course.shareAt(1000 * s);
      for (let s = -2 * stepS; s < course.durationMs / 1000 + 2 * stepS; s += stepS) {
        const [a, b, c, d] = [at(s), at(s + stepS), at(s + 2 * stepS), at(s + 3 * stepS)] as const;
        expect((b - a) / stepS).toBeGreaterThan(-1e-6);
        expect((b - a) / stepS).toBeLessThan(1000 * 1.0001);
        expect(Math.abs(c - 2 * b + a) / stepS ** 2).toBeLessThan(5000 * 1.001);
        expect(Math.abs(d - 3 * c + 3 * b - a) / stepS ** 3).toBeLessThan(40_000 * 1.01);
      }
      expect(at(course.durationMs / 1000)).toBeCloseTo(wayUm, 9);
    }
  });

  it('is half-way after half the time', () => {
    const course = courseOver(700, { maxSpeedUmPerS: 1000, accelerationUmPerS2: 2000 });
    expect([course.shareAt(-5), course.shareAt(0), course.shareAt(course.durationMs / 2), course.shareAt(course.durationMs)]).toEqual([0, 0, 0.5, 1]);
  });

  it('has a slack of its own on each axis', async () => {
    const { stage, trueUm } = openStage({ ...exact, backlashUm: 7, backlashYUm: 18 });
    await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    await stage.moveTo({ xUm: 19_000, yUm: 19_000 });
    expect(trueUm().xUm).toBeCloseTo(19_007, 9);
    expect(trueUm().yUm).toBeCloseTo(19_018, 9);
  });

  it('goes too far by its errors of scale, and aslant by its error of angle, without knowing of it', async () => {
    const { stage, trueUm } = openStage({ ...exact, scaleErrorX: 0.002, scaleErrorY: -0.001, nonOrthogonalityMrad: 1.5 });
    await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    const from = trueUm();
    await stage.moveTo({ xUm: 21_000, yUm: 22_000 });
    expect(await stage.position()).toEqual({ xUm: 21_000, yUm: 22_000 });
    // 1 mm along x becomes 1002 um; 2 mm along y become 1998 um, leaning by 1.5 mrad of that.
    expect(trueUm().xUm - from.xUm).toBeCloseTo(1002 + 1.998 * 1.5, 9);
    expect(trueUm().yUm - from.yUm).toBeCloseTo(1998, 9);
  });

  it('loses the backlash when it comes from the other side', async () => {
    const { stage, trueUm } = openStage({ ...exact, backlashUm: 12 });
    await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    const fromBelow = trueUm();
    await stage.moveTo({ xUm: 21_000, yUm: 21_000 });
    await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    expect(await stage.position()).toEqual({ xUm: 20_000, yUm: 20_000 });
    expect(trueUm().xUm - fromBelow.xUm).toBeCloseTo(12, 9);
    await stage.moveTo({ xUm: 19_980, yUm: 19_980 });
    await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    expect(trueUm()).toEqual(fromBelow);
    expect([withPlay(5, 3, 4), withPlay(5, 6, 4), withPlay(5, 0, 4)]).toEqual([5, 6, 4]);
  });

  it('repeats to a few um only, the same way for the same seed', async () => {
    const misses = async (seed: number) => {
      const { stage, trueUm } = openStage({ ...exact, repeatabilityUm: 2 }, seed);
      const found: number[] = [];
      for (let i = 0; i < 40; i++) {
        await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
        found.push(trueUm().xUm - 20_000);
        await stage.moveTo({ xUm: 19_000, yUm: 19_000 });
      }
      return found;
    };
    const found = await misses(3);
    expect(Math.max(...found.map(Math.abs))).toBeLessThanOrEqual(3);
    expect(Math.max(...found) - Math.min(...found)).toBeGreaterThan(1);
    expect(await misses(3)).toEqual(found);
    expect(await misses(4)).not.toEqual(found);
  });

  it('shakes after a move and has settled after the settling time', async () => {
    const { stage, clock, trueUm } = openStage({ ...exact, settleMs: 60 });
    await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    expect(trueUm().xUm - 20_000).toBeGreaterThan(1);
    await clock.sleep(60);
    expect(Math.abs(trueUm().xUm - 20_000)).toBeLessThan(0.01);
  });

  it('lets no call of its interface reach the truth', () => {
    const { instrument } = smallMicroscope();
    for (const device of [instrument.stage, instrument.focus, instrument.turret, instrument.lamp, instrument.camera]) {
      const names = [...Object.getOwnPropertyNames(device), ...Object.getOwnPropertyNames(Object.getPrototypeOf(device))];
      expect(names.filter((name) => /true|world|scene|truth|sight/i.test(name))).toEqual([]);
    }
  });
});

describe('simulated focus drive', () => {
  it('drifts as the stand warms up, unseen by its own report', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const { focus, trueUm } = createSimulatedFocus(clock, 1, new Faults(clock), { ...USUAL_FOCUS, warmUpUm: 5, driftUmPerH: 2, repeatabilityUm: 0, hysteresisUm: 0 });
    const before = trueUm();
    await clock.sleep(3_600_000);
    // 5 um with a time constant of 1 h, and 2 um/h: 5 (1 - 1/e) + 2.
    expect(before - trueUm()).toBeCloseTo(5 * (1 - Math.exp(-1)) + 2, 9);
    expect(await focus.position()).toBe(USUAL_FOCUS.startAtUm);
  });
});

describe('named faults', () => {
  it('stall an axis: half-way, once, and only when that axis moves', async () => {
    const { instrument, faults } = smallMicroscope();
    const { stage, focus } = instrument;
    faults.stallAxis('x');
    await stage.moveTo({ xUm: 10_000, yUm: 12_000 });
    await expect(stage.moveTo({ xUm: 14_000, yUm: 12_000 })).rejects.toMatchObject({ code: 'stalled' });
    expect((await stage.position()).xUm).toBeCloseTo(12_000, 6);
    await expect(stage.moveTo({ xUm: 14_000, yUm: 12_000 })).resolves.toBeDefined();
    faults.stallAxis('z', 2);
    for (let i = 0; i < 2; i++) await expect(focus.moveTo(7000)).rejects.toMatchObject({ code: 'stalled' });
    await expect(focus.moveTo(7000)).resolves.toBe(7000);
  });

  it('unplug the stage under way: it fails, and must be homed when it is back', async () => {
    const { instrument, faults } = smallMicroscope();
    const { stage } = instrument;
    const moving = expect(stage.moveTo({ xUm: 40_000, yUm: 10_000 })).rejects.toMatchObject({ code: 'disconnected' });
    await instrument.clock.sleep(100);
    faults.unplug('stage');
    await moving;
    await expect(stage.state()).rejects.toMatchObject({ code: 'disconnected' });
    faults.plugIn('stage');
    expect(await stage.state()).toBe('positionLost');
    await expect(stage.moveTo({ xUm: 1000, yUm: 1000 })).rejects.toMatchObject({ code: 'positionLost' });
    await stage.home();
    await expect(stage.moveTo({ xUm: 1000, yUm: 1000 })).resolves.toEqual({ xUm: 1000, yUm: 1000 });
  });

  it('garble one reply of each device', async () => {
    const { instrument, faults } = smallMicroscope();
    const asks = { stage: () => instrument.stage.position(), focus: () => instrument.focus.position(), turret: () => instrument.turret.position(), lamp: () => instrument.lamp.intensity(), camera: () => instrument.camera.snap() };
    for (const [device, ask] of Object.entries(asks)) {
      faults.corruptReply(device as keyof typeof asks);
      await expect(ask()).rejects.toMatchObject({ code: 'badReply', details: { device } });
      await expect(ask()).resolves.toBeDefined();
    }
  });

  it('drop, tear, blacken and overexpose frames, and let the next one be good', async () => {
    const { instrument, faults } = smallMicroscope();
    const { camera, clock } = instrument;
    await instrument.lamp.setIntensity(0.5);
    await instrument.stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    const mean = async () => meanSample(await camera.snap());
    const good = await mean();
    expect(good).toBeGreaterThan(30);
    const startMs = clock.now();
    faults.dropFrame();
    await expect(camera.snap()).rejects.toMatchObject({ code: 'noFrame' });
    expect(clock.now() - startMs).toBeGreaterThanOrEqual(1000);
    faults.corruptFrame();
    await expect(camera.snap()).rejects.toMatchObject({ code: 'badFrame' });
    faults.blackFrame();
    expect(await mean()).toBeLessThan(3);
    faults.saturate();
    expect(await mean()).toBe(255);
    expect(Math.abs((await mean()) / good - 1)).toBeLessThan(0.02);
  });

  it('take the lamp\'s light away while it still answers', async () => {
    const { instrument, faults } = smallMicroscope();
    await instrument.lamp.setIntensity(0.5);
    faults.loseLamp();
    expect(await instrument.lamp.intensity()).toBe(0.5);
    const { data } = await instrument.camera.snap();
    expect(Math.max(...data)).toBeLessThan(8);
    faults.restoreLamp();
    const lit = await instrument.camera.snap();
    expect(Math.max(...lit.data)).toBeGreaterThan(8);
  });
});

describe('simulated microscope', () => {
  it('sees what lies under the stage, through the objective in place', async () => {
    const { instrument } = smallMicroscope({ stage: exact });
    const { stage, turret, camera, lamp, focus } = instrument;
    await lamp.setIntensity(0.5);
    await focus.moveTo(1003);
    const mean = async () => meanSample(await camera.snap());
    await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    const onChip = await mean();
    await stage.moveTo({ xUm: 25_000, yUm: 25_000 });
    expect(await mean()).toBeLessThan(onChip / 3);
    await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
    await turret.moveTo(1);
    // (0.8 / 50)^2 against (0.3 / 10)^2: less light per pixel.
    expect((await mean()) / onChip).toBeCloseTo((0.8 / 50 / (0.3 / 10)) ** 2, 1);
  });

  it('takes the same night from the same seed', async () => {
    const night = async (seed: number) => {
      const { instrument } = smallMicroscope({ seed });
      await instrument.lamp.setIntensity(0.5);
      const bytes: number[] = [];
      for (let i = 0; i < 4; i++) {
        await instrument.stage.moveTo({ xUm: 19_900 + 60 * i, yUm: 20_000 });
        await instrument.focus.moveTo(1000 + i);
        bytes.push(...(await instrument.camera.snap()).data);
      }
      return { bytes, endedAtMs: instrument.clock.now() };
    };
    const first = await night(1);
    expect(await night(1)).toEqual(first);
    expect((await night(2)).bytes).not.toEqual(first.bytes);
  });
});
