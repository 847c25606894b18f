import { describe, expect, it } from 'vitest';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { limits } from './gateLimits.ts';
import { hostileRig } from './hostileRig.ts';
import type { RigFault } from './rigLine.ts';

function open(nextFault: () => RigFault = () => 'none', startHeightUm = limits.zMaxUm) {
  const clock = new VirtualClock({ startMs: 0 });
  const rig = hostileRig({ clock, limits, startHeightUm, nextFault });
  return { clock, rig, gated: guardInstrument(rig.instrument, limits) };
}

const lowered = () => open(() => 'none', 100);

describe('safety gate, one refusal at a time', () => {
  it.each([
    ['beyond xMax', { xUm: 20_001, yUm: 0 }],
    ['beyond yMin', { xUm: 0, yUm: -10_000.5 }],
    ['no number', { xUm: Number.NaN, yUm: 0 }],
    ['endless', { xUm: 0, yUm: Number.POSITIVE_INFINITY }],
  ])('refuses a stage target %s, and nothing reaches the stage', async (_, target) => {
    const { gated, rig } = open();
    await expect(gated.stage.moveTo(target)).rejects.toMatchObject({ code: 'limit' });
    expect(rig.received).toEqual([]);
  });

  it.each([-0.1, 5000.1, Number.NaN, Number.NEGATIVE_INFINITY])('refuses a focus target of %d', async (zUm) => {
    const { gated, rig } = open();
    await expect(gated.focus.moveTo(zUm)).rejects.toMatchObject({ code: 'limit', details: { what: 'zUm' } });
    expect(rig.received).toEqual([]);
  });

  it('lets a long sideways move pass at the safe height only', async () => {
    const { gated } = open();
    await expect(gated.stage.moveTo({ xUm: 15_000, yUm: 5000 }, { speedUmPerS: 40_000 })).resolves.toBeDefined();
    await gated.focus.moveTo(1999);
    await expect(gated.stage.moveTo({ xUm: 0, yUm: 5000 })).rejects.toMatchObject({ code: 'unsafeHeight', details: { lengthUm: 15_000 } });
    await expect(gated.stage.moveTo({ xUm: 12_000, yUm: 5000 })).resolves.toBeDefined();
  });

  it('bounds the speed of low moves: puts the bound in, refuses a faster one', async () => {
    const { gated, rig } = lowered();
    const speeds: (number | undefined)[] = [];
    const rawMove = rig.instrument.stage.moveTo;
    rig.instrument.stage.moveTo = (target, options) => {
      speeds.push(options?.speedUmPerS);
      return rawMove(target, options);
    };
    await gated.stage.moveTo({ xUm: 500, yUm: 0 });
    await gated.stage.moveTo({ xUm: 0, yUm: 0 }, { speedUmPerS: 200 });
    for (const speedUmPerS of [10_001, 0, -5, Number.NaN, Number.POSITIVE_INFINITY]) {
      await expect(gated.stage.moveTo({ xUm: 1, yUm: 0 }, { speedUmPerS })).rejects.toMatchObject({ code: 'tooFast' });
    }
    expect(speeds).toEqual([10_000, 200]);
    await expect(gated.focus.moveTo(50, { speedUmPerS: 501 })).rejects.toMatchObject({ code: 'tooFast' });
  });

  it('turns the turret and homes at the safe height only', async () => {
    const { gated } = open();
    await gated.turret.moveTo(2);
    await gated.stage.home();
    await gated.focus.moveTo(1000);
    await expect(gated.turret.moveTo(1)).rejects.toMatchObject({ code: 'unsafeHeight' });
    await expect(gated.stage.home()).rejects.toMatchObject({ code: 'unsafeHeight' });
    await expect(gated.turret.moveTo(4)).rejects.toMatchObject({ code: 'limit' });
    await expect(gated.turret.moveTo(0.5)).rejects.toMatchObject({ code: 'limit' });
  });

  it('lets nothing be lowered to the chips while the stage moves, and no stage move begin while the objective moves there', async () => {
    const { gated } = lowered();
    const sideways = gated.stage.moveTo({ xUm: 2000, yUm: 0 });
    await expect(gated.focus.moveTo(50)).rejects.toMatchObject({ code: 'unsafeHeight' });
    await sideways;
    const upwards = gated.focus.moveTo(300);
    await expect(gated.stage.moveTo({ xUm: 1, yUm: 0 })).rejects.toMatchObject({ code: 'unsafeHeight' });
    await upwards;
  });

  it('lets both move at once above the safe height', async () => {
    const { gated, rig } = open();
    await Promise.all([gated.stage.moveTo({ xUm: 9000, yUm: 0 }), gated.focus.moveTo(3000)]);
    expect([rig.received, rig.forbidden]).toEqual([['stage', 'focus'], []]);
  });

  it.each([-0.01, 0.81, Number.NaN])('refuses a lamp at %d', async (fraction) => {
    const { gated, rig } = open();
    await expect(gated.lamp.setIntensity(fraction)).rejects.toMatchObject({ code: 'lampLimit' });
    await gated.lamp.setIntensity(0.8);
    expect(rig.received).toEqual(['lamp']);
  });

  it('sends the camera no exposure, gain or region that is no number', async () => {
    const { gated } = open();
    await expect(gated.camera.configure({ exposureMs: Number.NaN, gainDb: 0 })).rejects.toMatchObject({ code: 'exposureRange' });
    await expect(gated.camera.configure({ exposureMs: 1, gainDb: Number.NaN })).rejects.toMatchObject({ code: 'unsupported' });
    const region = { colPx: 0.5, rowPx: 0, widthPx: 1, heightPx: 1 };
    await expect(gated.camera.configure({ exposureMs: 1, gainDb: 0, region })).rejects.toMatchObject({ code: 'unsupported' });
  });

  it('keeps a move that is still being checked from starting after a stop', async () => {
    const { gated, rig } = open();
    const moving = gated.stage.moveTo({ xUm: 100, yUm: 0 });
    await gated.stage.stop();
    await expect(moving).rejects.toMatchObject({ code: 'stopped' });
    expect(rig.received).toEqual([]);
  });

  it('moves nothing sideways while the height cannot be read', async () => {
    for (const [fault, code] of [['readFails', 'badReply'], ['readsNaN', 'badReply']] as const) {
      const { gated, rig } = open(() => fault, 100);
      await expect(gated.stage.moveTo({ xUm: 5, yUm: 0 })).rejects.toMatchObject({ code });
      await expect(gated.turret.moveTo(1)).rejects.toMatchObject({ code });
      expect(rig.received).toEqual([]);
    }
  });

  it('halts a focus drive whose reply was lost before the stage moves', async () => {
    let fault: RigFault = 'lostReply';
    const { gated, rig } = open(() => fault, 1500);
    rig.instrument.focus.position = async () => rig.heightUm();
    await expect(gated.focus.moveTo(100)).rejects.toMatchObject({ code: 'timeout' });
    fault = 'none';
    await gated.stage.moveTo({ xUm: 500, yUm: 0 });
    expect(rig.forbidden).toEqual([]);
    expect(rig.heightUm()).toBeGreaterThan(1400);
  });

  it('allows raising when the stage is dead, and lowering again only once it has been halted', async () => {
    let stageIsDead = false;
    const { gated, rig } = open(() => (stageIsDead ? 'stopFails' : 'none'));
    await gated.focus.moveTo(100);
    rig.instrument.stage.moveTo = () => Promise.reject(new Error('unplugged'));
    stageIsDead = true;
    await expect(gated.stage.moveTo({ xUm: 5, yUm: 0 })).rejects.toThrow('unplugged');
    await expect(gated.focus.moveTo(50)).rejects.toMatchObject({ code: 'disconnected' });
    await expect(gated.focus.moveTo(4000)).resolves.toBe(4000);
    stageIsDead = false;
    await expect(gated.focus.moveTo(50)).resolves.toBe(50);
  });

  it('refuses limits that make no sense', () => {
    const { rig } = open();
    expect(() => guardInstrument(rig.instrument, { ...limits, zMinUm: Number.NaN })).toThrow(/limit/);
    expect(() => guardInstrument(rig.instrument, { ...limits, xMinUm: 30_000 })).toThrow(/limit/);
    expect(() => guardInstrument(rig.instrument, { ...limits, safeHeightUm: 6000 })).toThrow(/limit/);
  });

  it('shows travel and focus range inside the soft limits', () => {
    const { gated } = open();
    expect(gated.stage.travel).toEqual({ xMinUm: -20_000, xMaxUm: 20_000, yMinUm: -10_000, yMaxUm: 10_000 });
    expect([gated.focus.zMinUm, gated.focus.zMaxUm]).toEqual([0, 5000]);
  });
});
