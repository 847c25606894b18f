import { afterAll, describe, expect, it } from 'vitest';
import type { GcodeController, Remembered } from '../../../drivers/gcode/index.ts';
import { serialOpener } from '../../../drivers/line/serialWire.ts';
import { distanceUm } from '../../../planner/units/index.ts';
import { AXES, clock, closeAll, firmware, homedStage, opened, optionsFor } from './rig.ts';

afterAll(closeAll);

/** Its reference place is (17 mm, 2 mm), from where it can go 1 mm each way. */
const byHand = {
  x: { ...AXES.x, originUm: 17_000, minUm: 16_000, maxUm: 18_000 },
  y: { ...AXES.y, originUm: 2000, minUm: 1000, maxUm: 3000 },
};

function stageOf({ stage }: GcodeController) {
  if (!stage) throw new Error('no stage');
  return stage;
}

describe.concurrent('a controller without switches', () => {
  it('knows nothing until a person has said where it stands; home goes back there', async () => {
    const fake = firmware({ build: { hasSwitches: false } });
    const controller = await opened(fake, { stage: byHand, reference: 'byHand' });
    const stage = stageOf(controller);
    expect(await stage.state()).toBe('positionLost');
    await expect(stage.home()).rejects.toMatchObject({ code: 'positionLost' });
    await expect(stage.moveTo({ xUm: 17_000, yUm: 2000 })).rejects.toMatchObject({ code: 'positionLost' });
    await expect(controller.home()).rejects.toMatchObject({ code: 'unsupported' });
    await controller.takeReference();
    const [fromX, fromY] = fake.trueMm();
    expect(await stage.position()).toEqual({ xUm: 17_000, yUm: 2000 });
    await stage.moveTo({ xUm: 17_500, yUm: 2250 });
    expect(fake.trueMm()[0] - fromX).toBeCloseTo(0.5, 3);
    expect(fake.trueMm()[1] - fromY).toBeCloseTo(-0.25, 3);
    await stage.home();
    expect(await stage.position()).toEqual({ xUm: 17_000, yUm: 2000 });
  });

  it('is not put to a place while a limit switch is touched', async () => {
    const fake = firmware({ build: { hasSwitches: false } });
    const controller = await opened(fake, { stage: byHand, reference: 'byHand' });
    fake.touchSwitch('X');
    await expect(controller.takeReference()).rejects.toMatchObject({ code: 'alarm', details: { pins: 'X' } });
  });
});

describe.concurrent('from one start of the program to the next', () => {
  const memoryOf = () => {
    const kept: { last: Remembered | undefined } = { last: undefined };
    return {
      kept,
      memory: {
        recall: () => kept.last,
        keep: (next: Remembered | undefined) => {
          kept.last = next;
        },
      },
    };
  };

  it('without a memory it must be homed', async () => {
    const { fake, controller } = await homedStage();
    await controller.close();
    const stage = stageOf(await opened(fake, { stage: AXES }));
    expect(await stage.state()).toBe('positionLost');
  });

  it('with one it goes on where it stands as it was left, and only there', async () => {
    const { kept, memory } = memoryOf();
    const { fake, controller, stage } = await homedStage({}, { memory });
    await stage.moveTo({ xUm: 17_000, yUm: 2000 });
    await controller.close();
    const again = await opened(fake, { stage: AXES, memory });
    expect(await stageOf(again).position()).toEqual({ xUm: 17_000, yUm: 2000 });
    await again.close();
    fake.powerCycle();
    await clock.sleep(40);
    const third = await opened(fake, { stage: AXES, memory });
    await expect(stageOf(third).position()).rejects.toMatchObject({ code: 'positionLost' });
    expect(kept.last).toBeUndefined();
  });

  it('nothing is remembered while it moves', async () => {
    const { kept, memory } = memoryOf();
    const { stage } = await homedStage({}, { memory });
    expect(kept.last).toBeDefined();
    const moving = stage.moveTo({ xUm: 17_000, yUm: 2000 }, { speedUmPerS: 1500 });
    await clock.sleep(30);
    expect(kept.last).toBeUndefined();
    await moving;
    expect(kept.last?.restMm[0]).toBeCloseTo(-3, 6);
  });
});

describe.concurrent('opening', () => {
  it('waits for a board that restarts when its port is opened, and then knows no place', async () => {
    const fake = firmware({ build: { bootMs: 300 } });
    await clock.sleep(350);
    const open = serialOpener({ port: fake.stableName, baudRate: 115_200 }, clock);
    const openWire: typeof open = async (listener) => {
      const wire = await open(listener);
      fake.powerCycle();
      return wire;
    };
    const stage = stageOf(await opened(fake, { stage: AXES, openWire, bootWithinMs: 2000 }));
    expect(await stage.state()).toBe('alarm');
    await stage.home();
    expect(await stage.state()).toBe('idle');
  });

  it('outlives a noisy line', async () => {
    const fake = firmware({ seed: 4 });
    fake.garble(0.05);
    await opened(fake, { stage: AXES, bootWithinMs: 2000 });
  });

  it('reads work positions, once it knows their offset', async () => {
    const { stage } = await homedStage({ build: { statusMask: 0, workOffsetMm: [1, -2, 3] } });
    const target = { xUm: 17_000, yUm: 2000 };
    expect(distanceUm(await stage.moveTo(target), target)).toBeLessThanOrEqual(0.2);
  });

  it('leaves a move beyond the controller\'s own limits to it, and says so', async () => {
    // By hand the limits of the instrument file are not compared with the controller's, whose frame is another.
    const controller = await opened(firmware(), { stage: { ...byHand, x: { ...byHand.x, maxUm: 60_000 } }, reference: 'byHand' });
    await controller.takeReference();
    await expect(stageOf(controller).moveTo({ xUm: 59_000, yUm: 2000 })).rejects.toMatchObject({ code: 'limit', details: { error: 15 } });
  });

  it('says when it was closed', async () => {
    const fake = firmware();
    const controller = await opened(fake, { stage: AXES });
    await controller.close();
    await controller.close();
    await expect(controller.home()).rejects.toMatchObject({ code: 'closed' });
    const options = optionsFor(fake, { stage: AXES });
    expect(options.line.baudRate).toBe(115_200);
  });
});
