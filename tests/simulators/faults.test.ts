import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { slowDisk, writeDurably } from '../../daemon/records/writeDurably.ts';
import { createSimulatedFocus, USUAL_FOCUS } from '../../simulators/devices/simulatedFocus.ts';
import { Faults, VirtualClock, type DeviceName } from '../../simulators/index.ts';
import { atRest } from '../support/atRest.ts';
import { inlinePool } from '../support/inlinePool.ts';
import { troubledPool } from '../support/troubledPool.ts';
import { meanSample, sameSamples } from './pictures.ts';
import { smallMicroscope } from './smallMicroscope.ts';

/** Protects: a fault by name does what its name says, so often as was told, and afterwards all is well again. Nights are proved against these. */

const folder = mkdtempSync(join(tmpdir(), 'nightjar-faults-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** The microscope over its chip, in the light, in focus. */
async function ready() {
  const microscope = smallMicroscope();
  const { stage, lamp, focus, clock } = microscope.instrument;
  await lamp.setIntensity(0.5);
  await stage.moveTo({ xUm: 20_000, yUm: 20_000 });
  await focus.moveTo(1003);
  await clock.sleep(100);
  return microscope;
}

/** What has become of a call by the time that nothing goes on any more. */
async function afterAllIsQuiet(call: Promise<unknown>): Promise<'waiting' | 'done' | 'failed'> {
  let state: 'waiting' | 'done' | 'failed' = 'waiting';
  call.then(() => (state = 'done'), () => (state = 'failed'));
  await atRest(() => (state === 'waiting' ? 0 : 1));
  return state;
}

describe('answers on the line', () => {
  const asks = ({ instrument }: Awaited<ReturnType<typeof ready>>): Readonly<Record<Exclude<DeviceName, 'fieldStop'>, () => Promise<unknown>>> => ({
    stage: () => instrument.stage.position(),
    focus: () => instrument.focus.position(),
    turret: () => instrument.turret.position(),
    lamp: () => instrument.lamp.intensity(),
    camera: () => instrument.camera.configure({ exposureMs: 8, gainDb: 0 }),
  });

  it('come late: as good as ever, after so long', async () => {
    const microscope = await ready();
    const { clock } = microscope.instrument;
    for (const [device, ask] of Object.entries(asks(microscope))) {
      const prompt = await ask();
      microscope.faults.answerLate(device as DeviceName, 700);
      const startMs = clock.now();
      expect(await ask()).toEqual(prompt);
      expect(clock.now() - startMs).toBe(700);
      expect(await ask()).toEqual(prompt);
      expect(clock.now() - startMs).toBe(700);
    }
  });

  it('are lost: the driver gives up in time, and the device has done it all the same', async () => {
    const microscope = await ready();
    const { instrument, faults } = microscope;
    for (const [device, ask] of Object.entries(asks(microscope))) {
      faults.loseReply(device as DeviceName);
      await expect(ask()).rejects.toMatchObject({ code: 'timeout', details: { device } });
      await expect(ask()).resolves.toBeDefined();
    }
    faults.loseReply('stage');
    await expect(instrument.stage.moveTo({ xUm: 20_500, yUm: 20_000 })).rejects.toMatchObject({ code: 'timeout' });
    expect(await instrument.stage.position()).toEqual({ xUm: 20_500, yUm: 20_000 });
  });

  it('never come, and nothing holds time back: others go on, and the device can be asked again', async () => {
    const microscope = await ready();
    const { instrument, faults } = microscope;
    for (const [device, ask] of Object.entries(asks(microscope))) {
      faults.hang(device as DeviceName);
      const hung = ask();
      const startMs = instrument.clock.now();
      await instrument.clock.sleep(3_600_000);
      expect(instrument.clock.now() - startMs).toBe(3_600_000);
      expect(await afterAllIsQuiet(hung)).toBe('waiting');
      await expect(ask()).resolves.toBeDefined();
    }
  });

  it('never come, whatever signal is aborted: the motion goes on to its end', async () => {
    const { instrument, faults } = await ready();
    const stop = new AbortController();
    faults.hang('stage');
    const hung = instrument.stage.moveTo({ xUm: 30_000, yUm: 20_000 }, { signal: stop.signal });
    await instrument.clock.sleep(50);
    stop.abort();
    expect(await afterAllIsQuiet(hung)).toBe('waiting');
    await instrument.clock.sleep(5000);
    expect(await instrument.stage.position()).toEqual({ xUm: 30_000, yUm: 20_000 });
  });
});

describe('a limit switch', () => {
  it('halts the stage half-way in alarm, and only homing ends that', async () => {
    const { instrument, faults } = await ready();
    const { stage, focus } = instrument;
    faults.hitLimit();
    await expect(stage.moveTo({ xUm: 21_000, yUm: 20_000 })).rejects.toMatchObject({ code: 'alarm' });
    expect(await stage.state()).toBe('alarm');
    await expect(stage.position()).rejects.toMatchObject({ code: 'alarm' });
    await expect(stage.moveTo({ xUm: 21_000, yUm: 20_000 })).rejects.toMatchObject({ code: 'alarm' });
    await expect(stage.stop()).resolves.toBeUndefined();
    await focus.moveTo(8000);
    await stage.home();
    expect(await stage.state()).toBe('idle');
    await expect(stage.moveTo({ xUm: 21_000, yUm: 20_000 })).resolves.toEqual({ xUm: 21_000, yUm: 20_000 });
  });
});

describe('frames', () => {
  it('come twice, byte by byte, and then anew', async () => {
    const { instrument, faults } = await ready();
    const { camera, stage, clock } = instrument;
    const first = await camera.snap();
    await stage.moveTo({ xUm: 20_300, yUm: 20_000 });
    faults.repeatFrame();
    const again = await camera.snap();
    expect(sameSamples(again, first)).toBe(true);
    expect(again.takenAtMs).toBeGreaterThan(first.takenAtMs);
    await clock.sleep(100);
    expect(sameSamples(await camera.snap(), first)).toBe(false);
  });

  it('are torn without a word: rows of the frame before under rows of their own', async () => {
    const [torn, whole] = [await ready(), await ready()];
    const frames = async ({ instrument: { camera, stage } }: typeof torn, strike: () => void) => {
      const first = await camera.snap();
      await stage.moveTo({ xUm: 20_300, yUm: 20_000 });
      strike();
      return { first, second: await camera.snap() };
    };
    const ours = await frames(torn, () => torn.faults.tearFrame());
    const theirs = await frames(whole, () => undefined);
    expect(sameSamples(ours.first, theirs.first)).toBe(true);
    const { widthPx, heightPx } = ours.second;
    const row = (data: Uint8Array | Uint16Array, n: number): string => data.subarray(3 * widthPx * n, 3 * widthPx * (n + 1)).join();
    const from = Array.from({ length: heightPx }, (_, n) => row(ours.second.data, n)).map((text, n) => (text === row(theirs.second.data, n) ? 'own' : text === row(ours.first.data, n) ? 'before' : 'neither'));
    const seam = from.indexOf('before');
    expect(seam).toBeGreaterThan(0.1 * heightPx);
    expect(from.slice(0, seam).every((what) => what === 'own')).toBe(true);
    expect(from.slice(seam).every((what) => what === 'before')).toBe(true);
    expect(heightPx - seam).toBeGreaterThan(0.1 * heightPx);
  });
});

describe('light', () => {
  it('fades evenly and dies, though the lamp still answers', async () => {
    const { instrument, faults } = await ready();
    const { camera, clock, lamp } = instrument;
    const mean = async () => meanSample(await camera.snap());
    const full = await mean();
    faults.fadeLamp(600_000);
    await clock.sleep(300_000);
    expect((await mean()) / full).toBeCloseTo(0.5, 1);
    await clock.sleep(300_000);
    expect(await mean()).toBeLessThan(3);
    expect(await lamp.intensity()).toBe(0.5);
    faults.restoreLamp();
    expect((await mean()) / full).toBeCloseTo(1, 1);
  });
});

describe('focus', () => {
  it('is lost when the sample jumps: the objective is so much too low, unseen by the drive', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const faults = new Faults(clock);
    const { focus, trueUm } = createSimulatedFocus(clock, 1, faults, USUAL_FOCUS);
    const before = trueUm();
    faults.jumpFocus(25);
    faults.jumpFocus(15);
    expect(before - trueUm()).toBeCloseTo(40, 9);
    expect(await focus.position()).toBe(USUAL_FOCUS.startAtUm);
  });

  it('drifts away, and stays where it is when that ends', async () => {
    const { instrument, faults } = await ready();
    faults.driftFocus(6);
    await instrument.clock.sleep(300_000);
    expect(faults.risenUm()).toBeCloseTo(30, 9);
    faults.driftFocus(0);
    await instrument.clock.sleep(300_000);
    expect(faults.risenUm()).toBeCloseTo(30, 9);
  });
});

describe('the computer', () => {
  it('has its clock set, while what waits and what moves goes on in true time', async () => {
    const { instrument, faults, virtualClock } = await ready();
    const { clock, stage, camera } = instrument;
    const trueMs = () => virtualClock?.now() ?? Number.NaN;
    const [saidMs, startMs] = [clock.now(), trueMs()];
    expect(saidMs).toBe(startMs);
    const waiting = clock.sleep(1000);
    const moving = stage.moveTo({ xUm: 21_000, yUm: 20_000 });
    faults.jumpClock(3 * 3_600_000);
    expect(clock.now() - saidMs).toBe(3 * 3_600_000);
    expect((await camera.snap()).takenAtMs - saidMs).toBe(3 * 3_600_000);
    expect(await moving).toEqual({ xUm: 21_000, yUm: 20_000 });
    await waiting;
    expect(trueMs() - startMs).toBe(1000);
    faults.jumpClock(-5 * 3_600_000);
    expect(clock.now()).toBe(trueMs() - 2 * 3_600_000);
  });

  it('is slow at its own work, or never ends it, and time goes on', async () => {
    const { instrument, faults } = await ready();
    const { clock } = instrument;
    const startMs = clock.now();
    faults.slowWork(2000);
    expect(await clock.track(Promise.resolve('frame'), 400)).toBe('frame');
    expect(clock.now() - startMs).toBe(2400);
    expect(await clock.track(Promise.resolve('frame'), 400)).toBe('frame');
    expect(clock.now() - startMs).toBe(2800);
    faults.hangWork();
    const hung = clock.track(Promise.resolve('frame'), 400);
    await clock.sleep(60_000);
    expect(await afterAllIsQuiet(hung)).toBe('waiting');
  });

  it('has a slow disk: what is written is whole, once the disk has let it through', async () => {
    let passes: () => void = () => undefined;
    const asked: number[] = [];
    const write = slowDisk((bytes) => {
      asked.push(bytes);
      return new Promise((resolve) => (passes = resolve));
    });
    const file = join(folder, 'slow.bin');
    const writing = writeDurably(file, new Uint8Array([1, 2, 3]), write);
    await expect.poll(() => asked).toEqual([3]);
    expect(() => readFileSync(file)).toThrow('ENOENT');
    passes();
    await writing;
    expect([...readFileSync(file)]).toEqual([1, 2, 3]);
  });

  it('has workers that crash on a frame, hang on it, or are gone', async () => {
    const pool = troubledPool({ ...inlinePool(), run: async () => Promise.reject(new Error('measured')) });
    const job = { tile: 4 } as Parameters<typeof pool.run>[0];
    const ask = () => pool.run(job);
    pool.crash();
    await expect(ask()).rejects.toMatchObject({ code: 'classifierFailed' });
    await expect(ask()).rejects.toThrow('measured');
    pool.hang();
    expect(await afterAllIsQuiet(ask())).toBe('waiting');
    await expect(ask()).rejects.toThrow('measured');
    pool.loseWorkers();
    for (let n = 0; n < 3; n++) await expect(ask()).rejects.toMatchObject({ code: 'workerLost' });
    expect(pool.struck).toEqual({ crash: 1, hang: 1, workerLost: 3 });
  });
});
