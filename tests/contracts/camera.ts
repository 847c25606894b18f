import { describe, expect, it } from 'vitest';
import type { Camera, CameraFrame, Clock } from '../../drivers/interfaces/index.ts';

export interface OpenedCamera {
  readonly camera: Camera;
  readonly clock: Clock;
}

function expectWhole(frame: CameraFrame, camera: Camera, widthPx: number, heightPx: number): void {
  const samples = frame.pixelFormat.startsWith('rgb') ? 3 : 1;
  expect([frame.widthPx, frame.heightPx, frame.pixelFormat, frame.bits]).toEqual([widthPx, heightPx, camera.info.pixelFormat, camera.info.bits]);
  expect(frame.data).toHaveLength(widthPx * heightPx * samples);
  expect(frame.data).toBeInstanceOf(frame.bits > 8 ? Uint16Array : Uint8Array);
  expect(frame.data.every((value) => value < 2 ** frame.bits)).toBe(true);
}

function givesFramesAsAsked(open: () => Promise<OpenedCamera>): void {
  it('gives whole frames of the size and format that it states', async () => {
    const { camera } = await open();
    expectWhole(await camera.snap(), camera, camera.info.widthPx, camera.info.heightPx);
  });

  it('exposes after the call, and gives the exposure that it used', async () => {
    const { camera, clock } = await open();
    const { exposureMinMs, exposureMaxMs } = camera.info;
    const used = await camera.configure({ exposureMs: Math.min(exposureMaxMs, Math.max(exposureMinMs, 12)), gainDb: 0 });
    await clock.sleep(500);
    const askedAtMs = clock.now();
    const frame = await camera.snap();
    expect(frame.takenAtMs).toBeGreaterThanOrEqual(askedAtMs);
    expect(clock.now()).toBeGreaterThanOrEqual(frame.takenAtMs + frame.exposureMs);
    expect(frame.exposureMs).toBe(used.exposureMs);
  });

  it('tells once that the exposure is over, after it and before the frame is handed over', async () => {
    const { camera, clock } = await open();
    const told: number[] = [];
    const frame = await camera.snap(undefined, () => told.push(clock.now()));
    expect(told).toHaveLength(1);
    expect(told[0]).toBeGreaterThanOrEqual(frame.takenAtMs + frame.exposureMs);
    expect(told[0]).toBeLessThanOrEqual(clock.now());
  });

  it('reads only the region asked for, and the whole sensor again afterwards', async () => {
    const { camera } = await open();
    const exposureMs = camera.info.exposureMaxMs < 12 ? camera.info.exposureMaxMs : Math.max(camera.info.exposureMinMs, 12);
    const region = { colPx: 4, rowPx: 6, widthPx: 8, heightPx: 5 };
    expect((await camera.configure({ exposureMs, gainDb: 0, region })).region).toEqual(region);
    expectWhole(await camera.snap(), camera, 8, 5);
    await camera.configure({ exposureMs, gainDb: 0 });
    expectWhole(await camera.snap(), camera, camera.info.widthPx, camera.info.heightPx);
  });

  it('refuses exposures out of bounds and regions off the sensor', async () => {
    const { camera } = await open();
    const { exposureMinMs, exposureMaxMs, widthPx } = camera.info;
    await expect(camera.configure({ exposureMs: exposureMaxMs * 2, gainDb: 0 })).rejects.toMatchObject({ code: 'exposureRange' });
    await expect(camera.configure({ exposureMs: exposureMinMs / 2, gainDb: 0 })).rejects.toMatchObject({ code: 'exposureRange' });
    const region = { colPx: widthPx - 4, rowPx: 0, widthPx: 8, heightPx: 8 };
    await expect(camera.configure({ exposureMs: exposureMinMs, gainDb: 0, region })).rejects.toMatchObject({ code: 'unsupported' });
  });
}

function keepsItsWord(open: () => Promise<OpenedCamera>): void {
  it('never writes into a frame that it has given away', async () => {
    const { camera } = await open();
    const first = await camera.snap();
    first.data.fill(7);
    const second = await camera.snap();
    expect(second.data.buffer).not.toBe(first.data.buffer);
    expect(first.data.every((value) => value === 7)).toBe(true);
  });

  it('ends with `stopped` when aborted, and goes on afterwards', async () => {
    const { camera } = await open();
    await expect(camera.snap(AbortSignal.abort())).rejects.toMatchObject({ code: 'stopped' });
    const stop = new AbortController();
    const snapping = expect(camera.snap(stop.signal)).rejects.toMatchObject({ code: 'stopped' });
    stop.abort();
    await snapping;
    await expect(camera.snap()).resolves.toBeDefined();
  });

  it('refuses everything once closed', async () => {
    const { camera } = await open();
    await camera.close();
    await expect(camera.snap()).rejects.toMatchObject({ code: 'closed' });
    await expect(camera.configure({ exposureMs: camera.info.exposureMinMs, gainDb: 0 })).rejects.toMatchObject({ code: 'closed' });
  });
}

/** What every camera must hold. `open` gives a fresh one that can give at least ten frames of at least 16 x 16 pixels. */
export function cameraContract(name: string, open: () => Promise<OpenedCamera>): void {
  describe(`camera contract: ${name}`, () => {
    givesFramesAsAsked(open);
    keepsItsWord(open);
  });
}
