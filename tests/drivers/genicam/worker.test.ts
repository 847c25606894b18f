import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { CameraWorker } from '../../../drivers/genicam/cameraWorker.ts';
import { GenicamCamera } from '../../../drivers/genicam/genicamCamera.ts';
import { listCameras, openGenicamCamera } from '../../../drivers/genicam/index.ts';
import type { OpenOptions } from '../../../drivers/genicam/messages.ts';
import type { Clock } from '../../../drivers/interfaces/index.ts';

const clock = createSystemClock();
const hanging = fileURLToPath(new URL('./hangingWorker.mjs', import.meta.url));
const options: OpenOptions = { library: '', camera: {}, pixelFormat: undefined, binning: 1, packetSize: 'auto', triggering: 'software', patienceMs: 100, retries: 0, globalShutter: undefined, freeRunSkip: 0 };

/** Real time, but half a minute of patience is over in a second. */
const hasty: Clock = { ...clock, sleep: (ms, signal) => clock.sleep(ms / 30, signal) };

async function openHanging(): Promise<{ camera: GenicamCamera; started: CameraWorker[] }> {
  const started: CameraWorker[] = [];
  const startWorker = () => {
    const worker = new CameraWorker(hasty, hanging);
    started.push(worker);
    return worker;
  };
  return { camera: await GenicamCamera.open({ clock: hasty, options, startWorker }), started };
}

describe('a worker that hangs', () => {
  it('is to the caller a camera that is gone, in bounded time, and is replaced and set up again by the next call', async () => {
    const { camera, started } = await openHanging();
    await camera.configure({ exposureMs: 20, gainDb: 0 });
    await expect(camera.snap()).rejects.toMatchObject({ code: 'disconnected' });
    expect(await camera.configure({ exposureMs: 30, gainDb: 0 })).toEqual({ exposureMs: 30, gainDb: 0 });
    expect(started).toHaveLength(2);
    // One frame counted by each worker.
    expect(camera.counters.frames).toBe(2);
    await camera.close();
  });

  it('does not hold up who aborts or closes', async () => {
    const { camera } = await openHanging();
    const stop = new AbortController();
    const snapping = expect(camera.snap(stop.signal)).rejects.toMatchObject({ code: 'stopped' });
    stop.abort();
    await snapping;
    const left = expect(camera.snap()).rejects.toMatchObject({ code: 'closed' });
    await camera.close();
    await left;
    await expect(camera.snap()).rejects.toMatchObject({ code: 'closed' });
  });

  it('takes a few requests in their order, and no endless row of them', async () => {
    const { camera } = await openHanging();
    const rows = Array.from({ length: 5 }, () => camera.snap().then(() => 'frame', (error: unknown) => (error as { code: string }).code));
    expect(await rows[4]).toBe('unsupported');
    await camera.close();
    expect(await Promise.all(rows.slice(0, 4))).toEqual(['closed', 'closed', 'closed', 'closed']);
  });
});

describe('without the library', () => {
  it('says which Debian package is missing, and lists nothing without an error', async () => {
    const missing = { library: 'libnowhere.so.0', debianPackage: 'libaravis-0.8-0' };
    await expect(openGenicamCamera({ clock, library: missing.library })).rejects.toMatchObject({ code: 'libraryMissing', details: missing });
    expect(await listCameras(clock, missing.library)).toEqual({ kind: 'libraryMissing', ...missing });
  });
});
