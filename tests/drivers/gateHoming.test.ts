import { describe, expect, it } from 'vitest';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import type { FocusDrive, Stage } from '../../drivers/interfaces/index.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { limits } from './gateLimits.ts';
import { hostileRig } from './hostileRig.ts';

/** Protects: axes that do not know where they are can be homed in the one way that is safe, and in no other. Laws of our own. */

/** An instrument that stands low, with more to its stage or focus drive than the hostile rig has. */
function open(stage: Partial<Stage> = {}, focus: Partial<FocusDrive> = {}) {
  const clock = new VirtualClock({ startMs: 0 });
  const rig = hostileRig({ clock, limits, startHeightUm: 100, nextFault: () => 'none' });
  const raw = { ...rig.instrument, stage: { ...rig.instrument.stage, ...stage }, focus: { ...rig.instrument.focus, ...focus } };
  return { clock, rig, gated: guardInstrument(raw, limits) };
}

const homingFor = (clock: () => VirtualClock, done: string[], name: string) => async () => {
  await clock().sleep(100);
  done.push(name);
};

describe('homing through the gate', () => {
  it('may begin low where it lifts the objective first, but not while anything else moves', async () => {
    const done: string[] = [];
    const made = open({ homingLifts: true, home: homingFor(() => made.clock, done, 'stage') });
    const { gated } = made;
    expect(gated.stage.homingLifts).toBe(true);
    const upwards = gated.focus.moveTo(150);
    await expect(gated.stage.home()).rejects.toMatchObject({ code: 'unsafeHeight' });
    await upwards;
    const homing = gated.stage.home();
    await expect(gated.focus.moveTo(50)).rejects.toMatchObject({ code: 'unsafeHeight' });
    await expect(gated.turret.moveTo(1)).rejects.toMatchObject({ code: 'unsafeHeight' });
    await homing;
    expect(done).toEqual(['stage']);
  });

  it('needs the safe height where it does not lift', async () => {
    const { gated, rig } = open();
    await expect(gated.stage.home()).rejects.toMatchObject({ code: 'unsafeHeight' });
    expect(rig.received).toEqual([]);
    expect(gated.stage).not.toHaveProperty('homingLifts');
  });

  it('lets a focus drive find its upper end when its height is lost, with the stage at rest', async () => {
    const done: string[] = [];
    const made = open({}, { position: () => Promise.reject(new Error('lost')), home: homingFor(() => made.clock, done, 'focus') });
    const { gated, rig } = made;
    const homing = gated.focus.home?.();
    await expect(gated.stage.moveTo({ xUm: 5, yUm: 0 })).rejects.toMatchObject({ code: 'unsafeHeight' });
    await homing;
    expect([done, rig.received]).toEqual([['focus'], []]);
  });

  it('takes a person\'s word for a reference place only while nothing moves, and has no such thing where the device has not', async () => {
    let taken = 0;
    const { gated } = open({ takeReference: async () => void taken++ }, { takeReference: async () => void taken++ });
    const moving = gated.stage.moveTo({ xUm: 500, yUm: 0 });
    await expect(gated.stage.takeReference?.()).rejects.toMatchObject({ code: 'unsupported' });
    await moving;
    await gated.stage.takeReference?.();
    await gated.focus.takeReference?.();
    expect(taken).toBe(2);
    const { rig } = open();
    const { takeReference: _, ...stage } = rig.instrument.stage;
    const { takeReference: __, home: ___, ...focus } = rig.instrument.focus;
    const plain = guardInstrument({ ...rig.instrument, stage, focus }, limits);
    expect([plain.stage.takeReference, plain.focus.takeReference, plain.focus.home]).toEqual([undefined, undefined, undefined]);
  });
});
