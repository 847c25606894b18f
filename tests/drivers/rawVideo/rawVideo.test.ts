import { afterEach, describe, expect, it } from 'vitest';
import type { Clock } from '../../../drivers/interfaces/index.ts';
import { openRawVideoCamera } from '../../../drivers/rawVideo/index.ts';
import { FrameCutter } from '../../../drivers/rawVideo/frameCutter.ts';
import { LastWords } from '../../../drivers/rawVideo/lastWords.ts';
import { InventedCommands, runs } from './invented.ts';

/** Protects: frames of a command are cut where they end, are new, and a command that ends, hangs or lies is told of and leaves nothing behind. */

const commands = new InventedCommands();
/** For waits that are to come to their end: they do so four times as soon. */
const impatient: Clock = { ...commands.clock, sleep: (ms, signal) => commands.clock.sleep(ms / 4, signal) };
afterEach(() => commands.clear());

describe('frames are cut by their length', () => {
  it('wherever the bytes are cut on their way', () => {
    const seen: number[][] = [];
    const cutter = new FrameCutter(5, (frame) => {
      seen.push([...frame]);
      return false;
    });
    const stream = Uint8Array.from({ length: 23 }, (_, i) => i);
    for (const [from, to] of [[0, 1], [1, 4], [4, 16], [16, 16], [16, 23]] as const) cutter.push(stream.subarray(from, to));
    expect(seen).toEqual([0, 5, 10, 15].map((at) => [at, at + 1, at + 2, at + 3, at + 4]));
    expect(cutter.begunBytes).toBe(3);
  });

  it('and a frame that was kept is not written over', () => {
    const kept: Uint8Array[] = [];
    const cutter = new FrameCutter(2, (frame) => kept.push(frame) > 0);
    cutter.push(Uint8Array.of(1, 1, 2, 2));
    expect(kept.map((frame) => [...frame])).toEqual([[1, 1], [2, 2]]);
  });

  it.each(['mono8', 'rgb8'] as const)('through a pipe in small pieces (%s): no frame is torn', async (pixelFormat) => {
    const { camera } = await commands.open({ manner: 'pieces', widthPx: 37, heightPx: 19, pixelFormat, frameMs: 15 });
    for (let n = 0; n < 5; n++) {
      const { data } = await camera.snap();
      expect(data).toHaveLength(37 * 19 * (pixelFormat === 'rgb8' ? 3 : 1));
      expect(new Set(data).size).toBe(1);
    }
  });
});

describe('a frame is as new as can be', () => {
  it('so many frames are let go by after the call', async () => {
    const { camera } = await commands.open({ discardFrames: 3, frameMs: 25 });
    const first = (await camera.snap()).data[0] ?? 0;
    const second = (await camera.snap()).data[0] ?? 0;
    expect(second - first).toBeGreaterThanOrEqual(4);
  });

  it('is not one of those that came while nobody asked', async () => {
    const { camera } = await commands.open({ frameMs: 20 });
    const before = (await camera.snap()).data[0] ?? 0;
    await commands.clock.sleep(400);
    const after = (await camera.snap()).data[0] ?? 0;
    expect(after - before).toBeGreaterThanOrEqual(10);
  });

  it('is not one of a burst that came quicker than an exposure', async () => {
    // The first 20 frames come at once; none of them can be exposed for 150 ms after the call.
    const { camera } = await commands.open({ manner: 'burst', exposureMs: 150, frameMs: 40, discardFrames: 1 });
    const askedAtMs = commands.clock.now();
    const frame = await camera.snap();
    expect(frame.data[0]).toBeGreaterThan(20);
    expect(commands.clock.now() - askedAtMs).toBeGreaterThanOrEqual(150);
    expect(frame.takenAtMs).toBeGreaterThanOrEqual(askedAtMs);
  });
});

describe('settings', () => {
  it('are as they are: another exposure, a gain or a region off the sensor is refused', async () => {
    const { camera } = await commands.open();
    expect(camera.info).toMatchObject({ exposureMinMs: 10, exposureMaxMs: 10, bits: 8 });
    expect(camera.info.model).toMatch(/no control of exposure, no status of frames, no proof that one is new/);
    await expect(camera.configure({ exposureMs: 11, gainDb: 0 })).rejects.toMatchObject({ code: 'exposureRange' });
    await expect(camera.configure({ exposureMs: 10, gainDb: 3 })).rejects.toMatchObject({ code: 'unsupported' });
    await expect(camera.configure({ exposureMs: 10, gainDb: 0, region: { colPx: 0.5, rowPx: 0, widthPx: 4, heightPx: 4 } })).rejects.toMatchObject({ code: 'unsupported' });
  });
});

describe('a command that does not do as it should', () => {
  it('cannot be started: says which', async () => {
    const options = { ...(await commands.options()), command: ['/nowhere/invented-camera', '-x'] };
    await expect(openRawVideoCamera(options, commands.clock)).rejects.toMatchObject({ code: 'pipeEnded', details: { command: '/nowhere/invented-camera', problem: expect.stringContaining('ENOENT') as string } });
    await expect(openRawVideoCamera({ ...options, command: [''] }, commands.clock)).rejects.toMatchObject({ code: 'pipeEnded' });
  });

  it('ends: exit code and last words are told, and the next call starts it again', async () => {
    const { camera, diary } = await commands.open({ last: 4, frameMs: 30 });
    await camera.snap();
    await expect(camera.snap()).rejects.toMatchObject({ code: 'pipeEnded', details: { exitCode: 3, said: 'invented camera ready lamp of the camera is out' } });
    expect((await camera.snap()).data[0]).toBe(3);
    expect(await commands.starts(diary)).toHaveLength(2);
  });

  it('ends in the middle of a frame: what is left over is told', async () => {
    const { diary: _, ...options } = await commands.options({ last: 0, manner: 'half' });
    await expect(openRawVideoCamera(options, commands.clock)).rejects.toMatchObject({ code: 'pipeEnded', details: { exitCode: 3, leftOverBytes: 384 } });
  });

  it('ends again and again without a frame: the pauses before it is started double', async () => {
    const pausesMs: number[] = [];
    const clock: Clock = {
      ...commands.clock,
      sleep: async (ms, signal) => {
        if (ms > 0 && ms <= 1000) pausesMs.push(ms);
        return commands.clock.sleep(ms > 1000 ? ms : ms / 50, signal);
      },
    };
    const { camera, diary } = await commands.open({ manner: 'once', last: 1, frameMs: 10 }, clock);
    await commands.ended(diary);
    for (let n = 0; n < 4; n++) await expect(camera.snap()).rejects.toMatchObject({ code: 'pipeEnded' });
    expect(pausesMs).toEqual([250, 500, 1000]);
    expect(await commands.starts(diary)).toHaveLength(5);
  });

  it('is asked whether it is back by its settings, as the run does', async () => {
    const { camera, diary } = await commands.open({ last: 3, frameMs: 15 });
    await commands.ended(diary);
    await camera.configure({ exposureMs: 10, gainDb: 0 });
    expect(await commands.starts(diary)).toHaveLength(2);
  });

  it('hangs: no frame within patience, and it is ended', async () => {
    const { camera, diary } = await commands.open({ manner: 'hang', last: 1, frameMs: 10, discardFrames: 1 }, impatient);
    await expect(camera.snap()).rejects.toMatchObject({ code: 'noFrame', details: { seenBytes: 768, wantedBytes: 768, said: 'invented camera ready' } });
    const [pid = 0] = await commands.starts(diary);
    expect(runs(pid)).toBe(false);
  });
});

describe('closing', () => {
  it.each(['plain', 'stubborn'] as const)('ends the command (%s), and more than once does no harm', async (manner) => {
    const { camera, diary } = await commands.open({ manner }, impatient);
    const [pid = 0] = await commands.starts(diary);
    const waiting = expect(camera.snap()).rejects.toMatchObject({ code: 'closed' });
    await camera.close();
    await waiting;
    expect(runs(pid)).toBe(false);
    await camera.close();
  });
});

it('what a command says is kept to its end, in one line', () => {
  const words = new LastWords();
  expect(words.text).toBe('');
  for (let n = 0; n < 1000; n++) words.hear(Buffer.from(`frame ${n}\r\n`));
  expect(words.text).toMatch(/^\.\.\.[^\n]{300}$/);
  expect(words.text).toMatch(/frame 998 frame 999$/);
});
