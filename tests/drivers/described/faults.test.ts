import { describe, expect, it } from 'vitest';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';
import { DunlinDh12 } from '../../../simulators/farEnd/described/dunlinDh12.ts';
import { MarrowbeckLt4 } from '../../../simulators/farEnd/described/marrowbeckLt4.ts';
import { QuillfenQf200 } from '../../../simulators/farEnd/described/quillfenQf200.ts';
import { devicePlan, must, openOverMemory } from './rig.ts';

/** Protects: what a line or a device does wrong ends in the right error or is made good, and never in a wrong move, a wrong place or a hang. */

const noReference = { '  reference: { send: "?R", known: ["R 1"], lost: ["R 0"] }\n': '' };

async function quillfen(changes: Readonly<Record<string, string>> = {}) {
  const clock = new VirtualClock({ startMs: 1_000_000 });
  const fake = new QuillfenQf200(clock);
  const { device, said } = await openOverMemory(devicePlan('quillfen-qf200', changes), fake, clock);
  return { clock, fake, device, said, stage: must(device.parts.stage), focus: must(device.parts.focus) };
}

async function marrowbeck(changes: Readonly<Record<string, string>> = {}) {
  const clock = new VirtualClock({ startMs: 1_000_000 });
  const fake = new MarrowbeckLt4(clock);
  const { device } = await openOverMemory(devicePlan('marrowbeck-lt4', changes), fake, clock);
  return { clock, fake, device, lamp: must(device.parts.lamp), turret: must(device.parts.turret), shutter: must(device.parts.shutter) };
}

const count = (commands: readonly string[], word: string): number => commands.filter((command) => command.startsWith(word)).length;

describe('silence and noise', () => {
  it('are made good for a question and for an absolute move, within the repeats', async () => {
    const { fake, stage } = await quillfen();
    fake.mute(2);
    expect(await stage.position()).toEqual({ xUm: 10_000, yUm: 6000 });
    fake.garble(2);
    expect(await stage.position()).toEqual({ xUm: 10_000, yUm: 6000 });
    await stage.moveTo({ xUm: 9000, yUm: 6000 });
    fake.mute(1);
    expect(await stage.moveTo({ xUm: 9500, yUm: 6500 })).toEqual({ xUm: 9500, yUm: 6500 });
  });

  it('end in an error that says what was sent and seen when they last', async () => {
    const { fake, stage, clock } = await quillfen();
    await stage.position();
    fake.mute();
    const startMs = clock.now();
    await expect(stage.position()).rejects.toMatchObject({ code: 'timeout', details: { device: 'QF-200', sent: '?P', waitedMs: 300 } });
    expect(clock.now() - startMs).toBeLessThan(3000);
    fake.mute(0);
    fake.garble(3);
    await expect(stage.position()).rejects.toMatchObject({ code: 'badReply', details: { sent: '?P', expected: 'P {x:integer} {y:integer}', seen: 'P 10000<B0> 60000', seenHex: '50 20 31 30 30 30 30 B0 20 36 30 30 30 30' } });
    expect(await stage.position()).toEqual({ xUm: 10_000, yUm: 6000 });
  });

  it('never make a move by a way go twice', async () => {
    const { fake, stage } = await quillfen({ '{ send: "MA {x} {y}", expect: "OK" }': '{ send: "MR {dx} {dy}", expect: "OK" }' });
    await stage.moveTo({ xUm: 10_100, yUm: 6000 });
    fake.mute(1, 'MR');
    await expect(stage.moveTo({ xUm: 10_200, yUm: 6000 })).rejects.toMatchObject({ code: 'timeout', details: { sent: 'MR 1000 0' } });
    expect(count(fake.commands, 'MR')).toBe(2);
    expect(await stage.moveTo({ xUm: 10_200, yUm: 6000 })).toEqual({ xUm: 10_200, yUm: 6000 });
  });

  it('a late answer is not taken for the answer to the next question', async () => {
    const { fake, focus, stage } = await quillfen();
    await focus.position();
    await stage.position();
    fake.slow(450, 1);
    expect(await focus.position()).toBe(2000);
    fake.slow(450, 3);
    await expect(focus.position()).rejects.toMatchObject({ code: 'timeout' });
    expect(await stage.position()).toEqual({ xUm: 10_000, yUm: 6000 });
  });

  it('a digit that was turned over does not make an arrival', async () => {
    const { fake, stage } = await quillfen();
    await stage.moveTo({ xUm: 9000, yUm: 6000 });
    fake.flipDigit(1);
    // Half a step beyond the tolerance on y: read again, and found right.
    expect(await stage.position()).toEqual({ xUm: 9000, yUm: 6000 });
  });

  it('a device that babbles without end is given up', async () => {
    const { clock, fake, stage } = await quillfen();
    await stage.position();
    fake.mute();
    const asking = expect(stage.position()).rejects.toMatchObject({ code: expect.stringMatching(/^(badReply|timeout)$/) as unknown });
    for (let i = 0; i < 500; i++) {
      fake.sayBytes(Uint8Array.from({ length: 64 }, () => 0x41));
      await clock.sleep(1);
    }
    await asking;
  });
});

describe('the device refuses', () => {
  it('by its own error, which is told with its code and not repeated', async () => {
    const { fake, stage } = await quillfen();
    await stage.moveTo({ xUm: 9000, yUm: 6000 });
    fake.refuse(1);
    const before = count(fake.commands, '?P');
    await expect(stage.position()).rejects.toMatchObject({ code: 'deviceError', details: { code: 2, sent: '?P', seen: 'E2' } });
    expect(count(fake.commands, '?P') - before).toBe(1);
  });

  it('by an echo that is another one', async () => {
    const { fake, lamp } = await marrowbeck();
    fake.garble(9);
    await expect(lamp.setIntensity(0.5)).rejects.toMatchObject({ code: 'badReply', details: { sent: 'L=500' } });
  });

  it('in an alarm, which is its state', async () => {
    const { fake, stage } = await quillfen();
    fake.alarm = 4;
    expect(await stage.state()).toBe('alarm');
    await expect(stage.moveTo({ xUm: 9000, yUm: 6000 })).rejects.toMatchObject({ code: 'alarm', details: { code: 4 } });
  });

  it('without a word, by SCPI: the error is asked for, and no later command is blamed', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const fake = new DunlinDh12(clock);
    const { device } = await openOverMemory(devicePlan('dunlin-dh12-scpi', { 'unitsAtFull: 0.7': 'unitsAtFull: 2' }), fake, clock);
    const lamp = must(device.parts.lamp);
    await expect(lamp.setIntensity(0.5)).rejects.toMatchObject({ code: 'deviceError', details: { code: -222, text: 'Data out of range', sent: 'SOUR:CURR 1.0000' } });
    await lamp.setIntensity(0.3);
    expect([fake.isOn, fake.ampere]).toEqual([true, 0.6]);
    await device.close();
    expect(fake.isOn).toBe(false);
  });

  it('without being asked: told at the next call, once', async () => {
    const { fake, lamp } = await marrowbeck();
    fake.say('TEMP 31.5');
    expect(await lamp.intensity()).toBe(0);
    fake.say('LAMP HOT');
    await expect(lamp.intensity()).rejects.toMatchObject({ code: 'deviceError', details: { text: 'HOT' } });
    expect(await lamp.intensity()).toBe(0);
  });
});

describe('a lost line', () => {
  it('is opened anew at the next call; a stage that says that it knows its place is believed', async () => {
    const { clock, fake, stage } = await quillfen();
    const moving = expect(stage.moveTo({ xUm: 2000, yUm: 6000 })).rejects.toMatchObject({ code: 'disconnected' });
    while (!fake.x.isMoving) await clock.sleep(1);
    fake.hangUp();
    await moving;
    await stage.stop();
    expect(await stage.state()).toBe('idle');
    expect((await stage.position()).xUm).toBeGreaterThan(2000);
    expect(count(fake.commands, '?ID')).toBe(2);
    await stage.moveTo({ xUm: 2000, yUm: 6000 });
  });

  it('loses the position of a stage that cannot say so, until it is homed', async () => {
    const { fake, stage } = await quillfen(noReference);
    await stage.position();
    fake.hangUp();
    await expect(stage.position()).rejects.toMatchObject({ code: 'positionLost' });
    expect(await stage.state()).toBe('positionLost');
    const moves = count(fake.commands, 'MA');
    await expect(stage.moveTo({ xUm: 2000, yUm: 6000 })).rejects.toMatchObject({ code: 'positionLost' });
    expect(count(fake.commands, 'MA')).toBe(moves);
    await stage.home();
    expect(await stage.state()).toBe('idle');
    expect(await stage.moveTo({ xUm: 2000, yUm: 6000 })).toEqual({ xUm: 2000, yUm: 6000 });
  });

  it('with another device behind it afterwards is told as such', async () => {
    const { fake, lamp } = await marrowbeck();
    await lamp.setIntensity(0.5);
    fake.hangUp();
    fake.refuse(9);
    await expect(lamp.intensity()).rejects.toMatchObject({ code: 'wrongDevice' });
    fake.refuse(0);
    expect(await lamp.intensity()).toBe(0.5);
  });
});

describe('a device that starts anew', () => {
  it('and says so has lost its position: nothing is sent to a wrong place, also in the middle of a move', async () => {
    const { clock, fake, stage } = await quillfen();
    const moving = expect(stage.moveTo({ xUm: 2000, yUm: 6000 })).rejects.toMatchObject({ code: 'positionLost' });
    while (!fake.x.isMoving) await clock.sleep(1);
    fake.restart();
    await moving;
    const moves = count(fake.commands, 'MA');
    expect(await stage.state()).toBe('positionLost');
    await expect(stage.moveTo({ xUm: 3000, yUm: 6000 })).rejects.toMatchObject({ code: 'positionLost' });
    expect(count(fake.commands, 'MA')).toBe(moves);
    await stage.home();
    expect(await stage.moveTo({ xUm: 3000, yUm: 6000 })).toEqual({ xUm: 3000, yUm: 6000 });
  });

  it.each([['that can be asked', {}], ['that cannot be asked', noReference]])('and says nothing is found out at the next move: a stage %s', async (_which, changes) => {
    const { fake, stage } = await quillfen({ ...changes, offsetUnits: 'offsetUnits' });
    await stage.moveTo({ xUm: 2000, yUm: 6000 });
    fake.powerCycle();
    const moves = count(fake.commands, 'MA');
    await expect(stage.moveTo({ xUm: 3000, yUm: 6000 })).rejects.toMatchObject({ code: 'positionLost' });
    expect(count(fake.commands, 'MA')).toBe(moves);
  });

  it.each([['that can be asked', {}], ['that cannot be asked', noReference]])('on its way without a word is found out before it moves again: a stage %s', async (_which, changes) => {
    const { clock, fake, stage } = await quillfen({ ...changes, offsetUnits: 'offsetUnits' });
    const moving = expect(stage.moveTo({ xUm: 2000, yUm: 6000 })).rejects.toMatchObject({ code: expect.stringMatching(/^(stalled|positionLost)$/) as unknown });
    while (!fake.x.isMoving) await clock.sleep(1);
    fake.powerCycle();
    await moving;
    const moves = count(fake.commands, 'MA');
    await expect(stage.moveTo({ xUm: 3000, yUm: 6000 })).rejects.toMatchObject({ code: 'positionLost' });
    expect(count(fake.commands, 'MA')).toBe(moves);
  });

  it('loses its height too, and finds it again at its upper end', async () => {
    const { fake, focus } = await quillfen();
    await focus.moveTo(500);
    fake.restart();
    await expect(focus.moveTo(400)).rejects.toMatchObject({ code: 'positionLost' });
    expect(count(fake.commands, 'MZ')).toBe(1);
    await must(focus.home)();
    expect(await focus.position()).toBe(2000);
    expect(focus.takeReference).toBeUndefined();
  });

  it('is told by a person where it is, where it has no switches', async () => {
    const { fake, stage } = await quillfen({ ...noReference, '  home:\n    steps:\n      - { send: "HM", expect: "OK" }\n    withinMs: 30000\n': '  takeReference:\n    - { send: "HX", expect: "OK" }\n' });
    fake.restart();
    await expect(stage.position()).rejects.toMatchObject({ code: 'positionLost' });
    await must(stage.takeReference)();
    expect(await stage.position()).toEqual({ xUm: 0, yUm: 12_000 });
  });

  it('a stage that was moved by hand is not taken for one that has lost its position', async () => {
    const { fake, stage } = await quillfen(noReference);
    await stage.moveTo({ xUm: 2000, yUm: 6000 });
    fake.x.put(12_345);
    expect(await stage.position()).toEqual({ xUm: 1234.5, yUm: 6000 });
    await stage.moveTo({ xUm: 3000, yUm: 6000 });
  });
});

describe('motion', () => {
  it('that ends short of its place is stalled, and halted', async () => {
    const { fake, stage } = await quillfen();
    fake.x.stick();
    await expect(stage.moveTo({ xUm: 2000, yUm: 6000 })).rejects.toMatchObject({ code: 'stalled', details: { at: 'x 6000 y 6000', asked: 'x 2000 y 6000' } });
    expect(fake.commands.at(-2)).toBe('HX');
  });

  it('of which nothing is heard any more is halted, and its stop is tried again', async () => {
    const { clock, fake, stage } = await quillfen();
    const moving = stage.moveTo({ xUm: 2000, yUm: 6000 }, { speedUmPerS: 500 });
    const failing = expect(moving).rejects.toMatchObject({ code: 'timeout' });
    while (!fake.x.isMoving) await clock.sleep(1);
    fake.mute(4);
    await failing;
    expect(count(fake.commands, 'HX')).toBe(2);
    expect(fake.x.isMoving).toBe(false);
  });

  it('is stopped at once although an answer is being waited for, and says so when the stop is not confirmed', async () => {
    const { clock, fake, stage } = await quillfen();
    const halt = new AbortController();
    const moving = stage.moveTo({ xUm: 2000, yUm: 6000 }, { speedUmPerS: 500, signal: halt.signal });
    const failing = expect(moving).rejects.toMatchObject({ code: 'timeout', details: { sent: 'HX' } });
    while (!fake.x.isMoving) await clock.sleep(1);
    fake.mute();
    await clock.sleep(100);
    const askedAtMs = clock.now();
    halt.abort();
    while (count(fake.commands, 'HX') === 0) await clock.sleep(0);
    expect(clock.now()).toBe(askedAtMs);
    expect(fake.x.isMoving).toBe(false);
    await failing;
  });

  it('at a speed that cannot be set is refused instead of being faster than asked', async () => {
    const { stage } = await quillfen({ '  speed:\n    unitsPerUmPerS: 10\n    perAxis: true\n    set:\n      - { send: "SP {speed}", expect: "OK" }\n': '' });
    await expect(stage.moveTo({ xUm: 2000, yUm: 6000 }, { speedUmPerS: 100 })).rejects.toMatchObject({ code: 'unsupported' });
    await stage.moveTo({ xUm: 9000, yUm: 6000 });
  });

  it('homing that is not described is a typed refusal; two moves at once are too', async () => {
    const { stage } = await quillfen({ '  home:\n    steps:\n      - { send: "HM", expect: "OK" }\n    withinMs: 30000\n': '' });
    await expect(stage.home()).rejects.toMatchObject({ code: 'unsupported' });
    const moving = stage.moveTo({ xUm: 9000, yUm: 6000 });
    await expect(stage.moveTo({ xUm: 9000, yUm: 5000 })).rejects.toMatchObject({ code: 'unsupported' });
    await moving;
  });
});

describe('the box', () => {
  it('opens and shuts its shutter, and knows nothing in between', async () => {
    const { shutter } = await marrowbeck();
    await shutter.setIntensity(1);
    expect(await shutter.intensity()).toBe(1);
    await expect(shutter.setIntensity(0.5)).rejects.toMatchObject({ code: 'unsupported' });
    await expect(shutter.setIntensity(2)).rejects.toMatchObject({ code: 'lampLimit' });
    await shutter.setIntensity(0);
    expect(await shutter.intensity()).toBe(0);
  });

  it('keeps its line until the last part in use is closed, and leaves the lamp off', async () => {
    const { fake, device, lamp, turret } = await marrowbeck();
    await lamp.setIntensity(0.5);
    await turret.close();
    expect(await lamp.intensity()).toBe(0.5);
    await device.close();
    expect(fake.motors.L?.at).toBe(0);
    await expect(lamp.intensity()).rejects.toMatchObject({ code: 'closed' });
  });

  it('that refuses to switch its lamp off at the end says so, with the line free all the same', async () => {
    const { fake, device } = await marrowbeck();
    fake.refuse(1);
    await expect(device.close()).rejects.toMatchObject({ code: 'deviceError', details: { sent: 'L=0' } });
  });
});
