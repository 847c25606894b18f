import { afterAll, describe, expect, it } from 'vitest';
import type { Stage } from '../../../drivers/interfaces/index.ts';
import { distanceUm } from '../../../planner/units/index.ts';
import type { FakeFirmware } from '../../../simulators/farEnd/firmware/fakeFirmware.ts';
import { AXES, clock, closeAll, homedStage, trueUm } from './rig.ts';

afterAll(closeAll);

const A = { xUm: 17_000, yUm: 2000 };
const B = { xUm: 18_500, yUm: 3500 };

/** A move of several seconds: however late a busy machine comes to it, what is done in its middle is done in its middle. */
const SLOWLY = { speedUmPerS: 500 };

async function underWay(fake: FakeFirmware): Promise<void> {
  const from = trueUm(fake);
  while (distanceUm(from, trueUm(fake)) < 2) await clock.sleep(5);
}

/** It arrives, says so, and truly is there. */
async function arrives(stage: Stage, fake: FakeFirmware, target: typeof A): Promise<void> {
  expect(distanceUm(await stage.moveTo(target), target)).toBeLessThanOrEqual(0.2);
  expect(distanceUm(trueUm(fake), target)).toBeLessThanOrEqual(0.2);
}

async function lostUntilHomed(stage: Stage, fake: FakeFirmware): Promise<void> {
  await expect(stage.moveTo(B)).rejects.toMatchObject({ code: 'positionLost' });
  await expect(stage.position()).rejects.toMatchObject({ code: 'positionLost' });
  expect(['alarm', 'positionLost']).toContain(await stage.state());
  await stage.home();
  expect(await stage.state()).toBe('idle');
  await arrives(stage, fake, B);
}

/** Whether the loss has been noticed already or is found out by this very call, it is said. */
async function saysThatItIsGone(call: Promise<unknown>): Promise<void> {
  await expect(call).rejects.toMatchObject({ code: expect.stringMatching(/^(disconnected|noSuchLine)$/) });
}

describe.concurrent('power', () => {
  it('is lost with the line open: nothing moves before homing, though the controller would', async () => {
    const { fake, stage } = await homedStage();
    await arrives(stage, fake, A);
    fake.powerCycle();
    await clock.sleep(40);
    await lostUntilHomed(stage, fake);
  });

  it('is lost in the middle of a move', async () => {
    const { fake, stage } = await homedStage();
    const moving = expect(stage.moveTo(A, SLOWLY)).rejects.toMatchObject({ code: 'positionLost' });
    await underWay(fake);
    fake.powerCycle();
    await moving;
    await lostUntilHomed(stage, fake);
  });
});

describe.concurrent('the plug', () => {
  it('is pulled and put back elsewhere: a board with its own power has kept its place', async () => {
    const { fake, controller, stage } = await homedStage();
    await arrives(stage, fake, A);
    fake.unplug({ keepsPower: true });
    await saysThatItIsGone(stage.moveTo(B));
    await saysThatItIsGone(stage.moveTo(B));
    fake.plugIn();
    await arrives(stage, fake, B);
    expect(controller.counters.reconnects).toBe(1);
  });

  it('is pulled and takes the power with it', async () => {
    const { fake, stage } = await homedStage();
    await arrives(stage, fake, A);
    fake.unplug({ keepsPower: false });
    await saysThatItIsGone(stage.moveTo(B));
    fake.plugIn();
    await lostUntilHomed(stage, fake);
  });

  it('is pulled in the middle of a move, which a board with its own power ends by itself', async () => {
    const { fake, stage } = await homedStage();
    const moving = expect(stage.moveTo(A, SLOWLY)).rejects.toMatchObject({ code: 'disconnected' });
    await underWay(fake);
    fake.unplug({ keepsPower: true });
    await moving;
    fake.plugIn();
    // Found in the middle of it, the jog is ended there.
    const at = await stage.position();
    expect(distanceUm(at, trueUm(fake))).toBeLessThanOrEqual(1);
    await arrives(stage, fake, B);
  });
});

describe.concurrent('the line', () => {
  it('spoils a fifth of all lines: every move arrives all the same', async () => {
    const { fake, controller, stage } = await homedStage({ seed: 5 });
    fake.garble(0.2);
    for (let i = 0; i < 8; i++) await arrives(stage, fake, i % 2 === 0 ? A : B);
    expect(controller.counters.garbled).toBeGreaterThan(0);
  });

  it('spoils what the controller hears: every move arrives, or its error says why', async () => {
    const { fake, stage } = await homedStage({ seed: 3 });
    fake.garbleIncoming(0.05);
    let arrived = 0;
    for (let i = 0; i < 12; i++) {
      const target = i % 2 === 0 ? A : B;
      const end = await stage.moveTo(target).catch((error: unknown) => error);
      if (end instanceof Error) expect(end).toMatchObject({ code: expect.stringMatching(/^(stalled|timeout|limit|positionLost|deviceError)$/) });
      else {
        expect(distanceUm(trueUm(fake), target)).toBeLessThanOrEqual(1);
        arrived++;
      }
    }
    expect(arrived).toBeGreaterThan(6);
  });

  it('falls silent in the middle of a move: a stated error within 10 s, and the next call finds its way', async () => {
    const { fake, stage } = await homedStage();
    const startMs = clock.now();
    const moving = expect(stage.moveTo(A, SLOWLY)).rejects.toMatchObject({ code: 'timeout', details: { baudRate: 115_200 } });
    await underWay(fake);
    fake.mute();
    await moving;
    expect(clock.now() - startMs).toBeLessThan(10_000);
    // What can no longer be watched does not go on.
    await clock.sleep(100);
    expect(fake.isMoving()).toBe(false);
    fake.mute(false);
    expect(distanceUm(await stage.position(), trueUm(fake))).toBeLessThanOrEqual(1);
    await arrives(stage, fake, B);
  });
});

describe.concurrent('a line that is nothing but noise', () => {
  it('ends every call by a stated error that shows the bytes, and is forgiven once it is quiet', async () => {
    const { fake, stage } = await homedStage();
    fake.babble();
    await expect(stage.moveTo(A)).rejects.toMatchObject({ code: 'garbled', details: { seenHex: expect.stringMatching(/^([89a-f][0-9a-f] ?)+$/) } });
    await expect(stage.state()).rejects.toMatchObject({ code: 'garbled' });
    fake.babble(false);
    expect(distanceUm(await stage.position(), trueUm(fake))).toBeLessThanOrEqual(1);
    await arrives(stage, fake, B);
  });
});

describe.concurrent('alarms', () => {
  it('a limit switch is touched: alarm, and homing brings it back', async () => {
    const { fake, stage } = await homedStage();
    const moving = expect(stage.moveTo(A, SLOWLY)).rejects.toMatchObject({ code: 'alarm', details: { alarm: 1, meaning: 'a limit switch was touched' } });
    await underWay(fake);
    fake.touchSwitch('X');
    await moving;
    expect(await stage.state()).toBe('alarm');
    fake.touchSwitch('');
    await lostUntilHomed(stage, fake);
  });

  it('homing finds no switch', async () => {
    const { fake, stage } = await homedStage();
    fake.loseSwitch();
    await expect(stage.home()).rejects.toMatchObject({ code: 'alarm', details: { alarm: 9 } });
    fake.loseSwitch(false);
    await lostUntilHomed(stage, fake);
  });

  it('homing is stopped', async () => {
    const { fake, stage } = await homedStage({ build: { homingMs: 1500 } });
    const homing = expect(stage.home()).rejects.toMatchObject({ code: 'stopped' });
    await clock.sleep(60);
    expect(await stage.state()).toBe('moving');
    await stage.stop();
    await homing;
    await lostUntilHomed(stage, fake);
  });
});

describe.concurrent('somebody at the controller', () => {
  it('holds a move: it ends short of its target, and says so', async () => {
    const { fake, stage } = await homedStage();
    const moving = expect(stage.moveTo(A, SLOWLY)).rejects.toMatchObject({ code: 'stalled', details: { device: 'stage' } });
    await underWay(fake);
    fake.pressHold();
    await moving;
    expect(distanceUm(await stage.position(), trueUm(fake))).toBeLessThanOrEqual(1);
    await arrives(stage, fake, B);
  });

  it('holds and lets go by our own call', async () => {
    const { fake, controller, stage } = await homedStage();
    const moving = expect(stage.moveTo(A, SLOWLY)).rejects.toMatchObject({ code: 'stalled' });
    await underWay(fake);
    await controller.hold();
    await moving;
    await controller.resume();
    await arrives(stage, fake, A);
  });
});

describe.concurrent('somebody who keeps asking', () => {
  it('does not disturb a move, and is told no place that cannot be', async () => {
    const { controller, stage } = await homedStage();
    const done = new AbortController();
    const asking = (async () => {
      const xs: number[] = [];
      while (!done.signal.aborted) {
        const [at] = await Promise.all([stage.position(), stage.state()]);
        xs.push(at.xUm);
        await clock.sleep(15);
      }
      return xs;
    })();
    for (const target of [A, B]) {
      await clock.sleep(1100);
      expect(distanceUm(await stage.moveTo(target), target)).toBeLessThanOrEqual(0.2);
    }
    done.abort();
    const xs = await asking;
    expect(Math.min(...xs)).toBeGreaterThanOrEqual(A.xUm - 1);
    expect(Math.max(...xs)).toBeLessThanOrEqual(19_001);
    expect(controller.counters.implausible).toBe(0);
  });
});

describe.concurrent('stage and focus drive on one controller', () => {
  it('wait for one another, and both arrive', async () => {
    const { fake, controller, stage } = await homedStage({}, { focus: AXES.z });
    const zUm = 3400;
    const [, reached] = await Promise.all([stage.moveTo(A), controller.focus?.moveTo(zUm), expect(stage.moveTo(B)).rejects.toMatchObject({ code: 'unsupported' })]);
    expect(reached).toBeCloseTo(zUm, 1);
    expect(trueUm(fake).zUm).toBeCloseTo(zUm, 1);
    expect(distanceUm(trueUm(fake), A)).toBeLessThanOrEqual(0.2);
  });

  it('a stop of one lets the other go on', async () => {
    const { controller, stage } = await homedStage({}, { focus: AXES.z });
    const moving = stage.moveTo(A, { speedUmPerS: 8000 });
    const waiting = expect(controller.focus?.moveTo(3400)).rejects.toMatchObject({ code: 'stopped' });
    await controller.focus?.stop();
    await waiting;
    expect(distanceUm(await moving, A)).toBeLessThanOrEqual(0.2);
  });
});
