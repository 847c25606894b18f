import { afterAll, expect, it } from 'vitest';
import { openGcodeController } from '../../drivers/gcode/index.ts';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { limits } from './gateLimits.ts';
import { hostileRig } from './hostileRig.ts';
import { atEnd, AXES, clock, closeAll, firmware, optionsFor } from './gcode/rig.ts';

afterAll(closeAll);

it('a stage whose line was pulled in mid-move runs on: nothing is lowered beside it until it has been seen at rest', async () => {
  const fake = firmware();
  const controller = await openGcodeController(optionsFor(fake, { stage: { x: AXES.x, y: AXES.y } }));
  atEnd(() => controller.close());
  await controller.home();
  const { stage } = controller;
  if (!stage) throw new Error('no stage');
  // The focus drive has a line of its own, and is high.
  const other = hostileRig({ clock: new VirtualClock({ startMs: 0 }), limits, startHeightUm: 2500, nextFault: () => 'none' });
  const gated = guardInstrument({ ...other.instrument, clock, stage }, limits);
  await gated.stage.moveTo({ xUm: 16_500, yUm: 2000 });
  const pulled = expect(gated.stage.moveTo({ xUm: 19_000, yUm: 2000 }, { speedUmPerS: 1000 })).rejects.toMatchObject({ code: 'disconnected' });
  await clock.sleep(200);
  fake.unplug({ keepsPower: true });
  await pulled;
  expect(fake.isMoving()).toBe(true);
  await expect(gated.focus.moveTo(1900)).rejects.toMatchObject({ code: 'noSuchLine' });
  await expect(gated.focus.moveTo(2600)).resolves.toBe(2600);
  expect(fake.isMoving()).toBe(true);
  fake.plugIn();
  await gated.focus.moveTo(1900);
  expect(fake.isMoving()).toBe(false);
});
