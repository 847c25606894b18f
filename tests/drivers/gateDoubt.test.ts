import { describe, expect, it } from 'vitest';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import { DriverError, type SafetyLimits } from '../../drivers/interfaces/index.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { limits } from './gateLimits.ts';
import { hostileRig } from './hostileRig.ts';
import type { RigFault } from './rigLine.ts';

/** Protects: what the gate cannot know for sure it takes for the worse, but never so that the objective cannot go up. Laws of our own. */

interface Opening {
  readonly startHeightUm?: number;
  /** Of the first calls that reach a device, in their order. */
  readonly faults?: readonly RigFault[];
  readonly homingLifts?: boolean;
}

function open({ startHeightUm = 100, faults = [], homingLifts = false }: Opening = {}) {
  const clock = new VirtualClock({ startMs: 0 });
  const script = [...faults];
  const rig = hostileRig({ clock, limits, startHeightUm, homingLifts, nextFault: () => script.shift() ?? 'none' });
  return { clock, rig, gated: guardInstrument(rig.instrument, limits), then: (...next: readonly RigFault[]) => script.splice(0, Infinity, ...next) };
}

describe('one garbled figure lets nothing pass', () => {
  it('a low objective that says once that it is high', async () => {
    const { gated, rig } = open({ faults: ['none', 'garbled', 'none', 'none', 'garbled', 'none', 'garbled'] });
    // The rig's second noise adds 4000 um; the first takes a digit off.
    await expect(gated.stage.moveTo({ xUm: 9000, yUm: 0 })).rejects.toMatchObject({ code: 'unsafeHeight' });
    await expect(gated.stage.moveTo({ xUm: 9000, yUm: 0 })).rejects.toMatchObject({ code: 'unsafeHeight' });
    await expect(gated.turret.moveTo(1)).rejects.toMatchObject({ code: 'unsafeHeight' });
    expect(rig.received).toEqual([]);
  });

  it('a stage that says once that it is near', async () => {
    const { gated, rig } = open();
    for (let xUm = 2500; xUm <= 10_000; xUm += 2500) await gated.stage.moveTo({ xUm, yUm: 0 });
    const truly = rig.instrument.stage.position;
    let readings = 0;
    Object.assign(rig.instrument.stage, { position: async () => (readings++ === 0 ? { xUm: 1000, yUm: 0 } : truly()) });
    await expect(gated.stage.moveTo({ xUm: 0, yUm: 0 })).rejects.toMatchObject({ code: 'unsafeHeight', details: { lengthUm: 10_000 } });
  });

  it('a lowering that looks once like going up, before a turret that is not in place', async () => {
    const { gated, then } = open({ startHeightUm: 2100 });
    then('none', 'none', 'lostReply');
    await expect(gated.turret.moveTo(1)).rejects.toMatchObject({ code: 'timeout' });
    // A tenth of 2100 um is less than 900.
    then('garbled');
    await expect(gated.focus.moveTo(900)).rejects.toMatchObject({ code: 'unsafeHeight' });
  });

  it('a stage whose own report is off goes too far by no more than that', async () => {
    const { gated, rig } = open();
    const truly = rig.instrument.stage.position;
    Object.assign(rig.instrument.stage, { position: async () => ({ ...(await truly()), xUm: (await truly()).xUm + 70 }) });
    await expect(gated.stage.moveTo({ xUm: 3071, yUm: 0 })).rejects.toMatchObject({ code: 'unsafeHeight' });
    await gated.stage.moveTo({ xUm: 3070, yUm: 0 });
    expect(rig.forbidden).toEqual(['low stage move of 3070']);
  });
});

describe('what is not known to have ended is halted first', () => {
  it('a move that was stopped before the driver had sent it', async () => {
    const { gated, rig, then } = open();
    then('none', 'none', 'none', 'lateStart');
    const late = gated.stage.moveTo({ xUm: 3000, yUm: 0 }).catch((error: unknown) => error);
    await new Promise(setImmediate);
    await gated.stage.stop();
    await gated.focus.moveTo(50);
    expect(rig.forbidden).toEqual([]);
    await late;
  });

  it('a stopped move that says nothing: no other begins for it, and raising does', async () => {
    const { gated, rig } = open();
    Object.assign(rig.instrument.stage, { moveTo: () => new Promise(() => undefined) });
    void gated.stage.moveTo({ xUm: 3000, yUm: 0 }).catch(() => undefined);
    await new Promise(setImmediate);
    await gated.stage.stop();
    await expect(gated.focus.moveTo(50)).rejects.toMatchObject({ code: 'timeout', details: { waitedMs: 5000 } });
    await expect(gated.focus.moveTo(150)).resolves.toBe(150);
  });

  it('a move whose stop failed, and whose reply was lost after that', async () => {
    const { gated, rig, then } = open({ startHeightUm: 2500 });
    then('none', 'none', 'lostReply', 'stopFails');
    const lost = gated.stage.moveTo({ xUm: 20_000, yUm: 0 }).catch((error: unknown) => error);
    await new Promise(setImmediate);
    await expect(gated.stage.stop()).rejects.toMatchObject({ code: 'disconnected' });
    await lost;
    await gated.focus.moveTo(2450);
    await gated.focus.moveTo(1900);
    expect(rig.forbidden).toEqual([]);
  });

  it('a move that was stopped before the driver had sent it, and then fails as if it had not been stopped', async () => {
    const { gated, rig } = open({ startHeightUm: 2500 });
    let fail: (error: Error) => void = () => undefined;
    Object.assign(rig.instrument.stage, { moveTo: () => new Promise((_, reject) => (fail = reject)) });
    const late = gated.stage.moveTo({ xUm: 20_000, yUm: 0 }).catch((error: unknown) => error);
    await new Promise(setImmediate);
    await gated.stage.stop();
    fail(new Error('unplugged'));
    await late;
    let stops = 0;
    Object.assign(rig.instrument.stage, { stop: async () => void stops++ });
    await gated.focus.moveTo(1900);
    expect(stops).toBe(1);
  });

  it('a device that is closed under way, as well as can be', async () => {
    const { clock, gated, rig, then } = open({ startHeightUm: 3000 });
    const lowered = gated.focus.moveTo(0).catch((error: { readonly code: string }) => error.code);
    await clock.sleep(2000);
    await gated.focus.close();
    expect(await lowered).toBe('stopped');
    const stoodAtUm = rig.heightUm();
    await clock.sleep(2000);
    expect([rig.heightUm(), stoodAtUm]).toEqual([2000, 2000]);
    void gated.stage.moveTo({ xUm: 20_000, yUm: 0 }, { speedUmPerS: 100 }).catch(() => undefined);
    await new Promise(setImmediate);
    then('stopFails');
    await expect(gated.stage.close()).resolves.toBeUndefined();
    await expect(gated.stage.moveTo({ xUm: 0, yUm: 0 })).rejects.toMatchObject({ code: 'closed' });
  });
});

describe('a stop that resolves is no proof of rest', () => {
  it('the stage must be seen at rest before anything is lowered; up goes without', async () => {
    const { clock, gated, rig, then } = open({ startHeightUm: 2500 });
    then('none', 'none', 'lostReply');
    await expect(gated.stage.moveTo({ xUm: 20_000, yUm: 0 }, { speedUmPerS: 2000 })).rejects.toMatchObject({ code: 'timeout' });
    // The height, which is no way up; the stop.
    then('none', 'stopLies');
    await expect(gated.focus.moveTo(1000)).rejects.toMatchObject({ code: 'timeout', details: { device: 'stage', what: 'it is not seen at rest' } });
    await expect(gated.focus.moveTo(2600)).resolves.toBe(2600);
    await gated.focus.moveTo(1000);
    expect(rig.forbidden).toEqual([]);
    expect(clock.now()).toBeLessThan(9000);
  });

  it('a figure that noise has changed costs one more look, and a silent line the move', async () => {
    const { gated, rig, then } = open({ startHeightUm: 2500 });
    const fail = async () => {
      then('none', 'none', 'lostReply');
      await expect(gated.stage.moveTo({ xUm: 15_000, yUm: 0 })).rejects.toMatchObject({ code: 'timeout' });
    };
    await fail();
    then('none', 'none', 'garbled');
    await expect(gated.focus.moveTo(1990)).resolves.toBe(1990);
    await gated.focus.moveTo(2500);
    await fail();
    then('none', 'none', 'readFails');
    await expect(gated.focus.moveTo(1000)).rejects.toMatchObject({ code: 'badReply' });
    expect(rig.forbidden).toEqual([]);
  });

  it.each(['positionLost', 'alarm', 'deviceError'] as const)('a device that answers %s alone can be homed: it has its line', async (code) => {
    const { gated, rig, then } = open({ homingLifts: true });
    then('none', 'none', 'none', 'lostReply');
    await expect(gated.stage.moveTo({ xUm: 2000, yUm: 0 })).rejects.toMatchObject({ code: 'timeout' });
    Object.assign(rig.instrument.stage, { position: () => Promise.reject(new DriverError(code, { device: 'stage' })) });
    await expect(gated.stage.home()).resolves.toBeUndefined();
    expect(rig.forbidden).toEqual([]);
  });

  it('a focus drive in doubt may be raised unseen, and is in doubt until it has arrived', async () => {
    const { gated, rig, then } = open({ startHeightUm: 1000 });
    then('lostReply');
    await expect(gated.focus.moveTo(500)).rejects.toMatchObject({ code: 'timeout' });
    then('stopLies', 'none', 'refused');
    await expect(gated.focus.moveTo(2500)).rejects.toMatchObject({ code: 'deviceError' });
    then('stopLies');
    await expect(gated.stage.moveTo({ xUm: 5, yUm: 0 })).rejects.toMatchObject({ code: 'timeout', details: { device: 'focus' } });
    await gated.focus.moveTo(2500);
    Object.assign(rig.instrument.focus, { stop: () => Promise.reject(new Error('no stop is needed any more')) });
    await gated.stage.moveTo({ xUm: 9000, yUm: 0 });
    expect(rig.received).toEqual(['focus', 'focus', 'focus', 'stage']);
    expect(rig.forbidden).toEqual([]);
  });
});

describe('the objective can go up', () => {
  it('while the stage moves near the chips, and nothing is lowered meanwhile', async () => {
    const { gated, rig } = open();
    const sideways = gated.stage.moveTo({ xUm: 3000, yUm: 0 }, { speedUmPerS: 500 });
    await expect(gated.focus.moveTo(300)).resolves.toBe(300);
    await expect(gated.focus.moveTo(299)).rejects.toMatchObject({ code: 'unsafeHeight' });
    await sideways;
    expect(rig.forbidden).toEqual([]);
  });

  it('above all chips where its height cannot be read and the stage is dead', async () => {
    const { gated, rig } = open();
    Object.assign(rig.instrument.stage, { moveTo: () => Promise.reject(new Error('dead')), stop: () => Promise.reject(new Error('dead')) });
    await expect(gated.stage.moveTo({ xUm: 5, yUm: 0 })).rejects.toThrow('dead');
    Object.assign(rig.instrument.focus, { position: () => Promise.reject(new Error('mute')) });
    await expect(gated.focus.moveTo(1999)).rejects.toThrow('dead');
    await expect(gated.focus.moveTo(2000)).resolves.toBe(2000);
  });
});

describe('a homing that lifts', () => {
  it('is stopped with the objective, and called off with it while it is still being checked', async () => {
    const { clock, gated, rig } = open({ homingLifts: true });
    const calledOff = gated.stage.home().catch((error: { readonly code: string }) => error.code);
    await gated.focus.stop();
    expect([await calledOff, rig.received]).toEqual(['stopped', []]);
    const homing = gated.stage.home().catch((error: { readonly code: string }) => error.code);
    await clock.sleep(1000);
    await gated.focus.stop();
    expect([await homing, rig.heightUm()]).toEqual(['stopped', 400]);
  });

  it('lets nothing else move the objective or turn it away, above the safe height too, and when it has failed is halted first', async () => {
    const { clock, gated, rig, then } = open({ homingLifts: true, startHeightUm: 2500 });
    const homing = gated.stage.home().catch(() => undefined);
    await clock.sleep(100);
    await expect(gated.focus.moveTo(4000)).rejects.toMatchObject({ code: 'unsafeHeight' });
    await expect(gated.focus.home?.()).rejects.toMatchObject({ code: 'unsafeHeight' });
    await expect(gated.turret.moveTo(1)).rejects.toMatchObject({ code: 'unsafeHeight' });
    await homing;
    await gated.focus.moveTo(2500);
    then('lostReply');
    await expect(gated.stage.home()).rejects.toMatchObject({ code: 'timeout' });
    await gated.turret.moveTo(1);
    await gated.focus.moveTo(2600);
    expect(rig.forbidden).toEqual([]);
  });
});

it('a focus drive homes only while the stage stands and the turret does not turn', async () => {
  const { gated } = open({ startHeightUm: 3000 });
  const sideways = gated.stage.moveTo({ xUm: 3000, yUm: 0 });
  await expect(gated.focus.home?.()).rejects.toMatchObject({ code: 'unsafeHeight' });
  await sideways;
  const turning = gated.turret.moveTo(1);
  await expect(gated.focus.home?.()).rejects.toMatchObject({ code: 'unsafeHeight' });
  await turning;
  await expect(gated.focus.home?.()).resolves.toBeUndefined();
});

it('limits are those at the opening, whatever becomes of the object that they came in', async () => {
  const { rig } = open();
  let looks = 0;
  const shifty: SafetyLimits = {
    ...limits,
    get zMinUm() {
      return looks++ === 0 ? 0 : Number.NaN;
    },
  };
  const gated = guardInstrument(rig.instrument, shifty);
  await expect(gated.focus.moveTo(-5)).rejects.toMatchObject({ code: 'limit' });
});
