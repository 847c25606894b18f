import { afterEach, describe, expect, it } from 'vitest';
import type { FrameJob, FrameJobResult } from '../../../daemon/classify/job.ts';
import { ANSWERS_WITHIN_MS, WorkerPool } from '../../../daemon/classify/pool.ts';
import { runFrameJob } from '../../../daemon/classify/runFrameJob.ts';
import { hasCode } from '../../../daemon/errors/index.ts';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { DriverError, type Clock } from '../../../drivers/interfaces/index.ts';
import { renderFrame } from '../../../simulators/camera/renderFrame.ts';
import { createScene, objectiveOf } from '../../../simulators/camera/scene.ts';
import { trayNamed } from '../../simulators/smallMicroscope.ts';

/** Protects: what a worker answers is what this thread would, dead workers are replaced, and a frame that cannot be measured is named. */

const camera = { widthPx: 256, heightPx: 208, bits: 8, transfer: 'linear' } as const;
const sceneOptions = { seed: 7, tray: trayNamed('tiny'), camera, objectives: [{ magnification: 10, numericalAperture: 0.3, cameraToStageUm: [0.69, 0, 0, -0.69] }], lamp: 'halogen' } as const;
const scene = createScene(sceneOptions);

/** A frame of the tray's middle, a little further right for each number. */
function job(tile: number): FrameJob {
  const centreUm = { xUm: 19_880 + 40 * tile, yUm: 19_755 };
  const region = { colPx: 0, rowPx: 0, widthPx: camera.widthPx, heightPx: camera.heightPx };
  const rendered = renderFrame(scene, { atUm: centreUm, zUm: 1003, objective: 0, exposureMs: 8, gainDb: 0, region, lampIntensity: 0.6, noiseKey: String(tile) });
  const { cameraToStageUm } = objectiveOf(sceneOptions, 0);
  const optics = { transfer: camera.transfer, numericalAperture: 0.3, dark: [0, 0, 0], flare: [0, 0, 0] };
  const frame = { ...rendered, bits: camera.bits, exposureMs: 8, takenAtMs: 0 };
  return { tile, input: { frame, pose: { centreUm, cameraToStageUm, widthPx: camera.widthPx, heightPx: camera.heightPx }, optics }, pictures: { mapWidthPx: 128, cropRimUm: 20, rawFrame: false } };
}

/** A frame with fewer samples than its size says. */
function tornJob(tile: number): FrameJob {
  const whole = job(tile);
  return { ...whole, input: { ...whole.input, frame: { ...whole.input.frame, data: new Uint8Array(100) } } };
}

const pools: WorkerPool[] = [];
afterEach(async () => {
  for (const pool of pools.splice(0)) await pool.close();
});

function open(workers: number, clock: Clock = createSystemClock()): WorkerPool {
  const pool = new WorkerPool(workers, clock);
  pools.push(pool);
  return pool;
}

/** Time that passes when the test says so: whoever waits for no longer is then told. */
function handClock() {
  const waiting = new Set<{ readonly ms: number; readonly wake: () => void }>();
  const clock: Clock = {
    now: () => 0,
    sleep: (ms, signal) =>
      new Promise((resolve, reject) => {
        const wait = { ms, wake: resolve };
        waiting.add(wait);
        signal?.addEventListener('abort', () => {
          waiting.delete(wait);
          reject(signal.reason as Error);
        });
      }),
    track: (operation) => operation,
  };
  const pass = (ms: number): void => {
    for (const wait of waiting) if (wait.ms <= ms) wait.wake();
  };
  return { clock, pass, waiting };
}

/** The pool's present threads are deaf from now on: what they are asked is never answered. */
function deafen(pool: WorkerPool): void {
  for (const worker of pool['all']) Object.assign(worker['thread'], { postMessage: () => undefined });
}

const crashed = new WeakSet<object>();

/** Ends every thread of the pool, as a crash would; there is no way to do it from outside, so the test reaches in. */
function crash(pool: WorkerPool): void {
  for (const worker of pool['all']) {
    if (crashed.has(worker)) continue;
    crashed.add(worker);
    void worker['thread'].terminate();
  }
}

/** What became of a job: `ok`, or code and message of the error. */
function outcomeOf(result: Promise<FrameJobResult>): Promise<{ readonly code: string; readonly message: string }> {
  return result.then(
    () => ({ code: 'ok', message: '' }),
    (error: unknown) => {
      if (hasCode(error, 'classifierFailed')) return { code: error.code, message: error.details.message };
      return { code: error instanceof DriverError || hasCode(error, 'queueFull') || hasCode(error, 'workerLost') ? error.code : String(error), message: '' };
    },
  );
}

describe('the pool of classifier workers', () => {
  it('fits a ladder as this thread would, to the last bit', async () => {
    const context = { material: 'graphene', oxideNm: 285, numericalAperture: 0.3, lamp: 'halogen', channels: 3 } as const;
    const samples = [[0.1, 0.11, 0.01], [0.19, 0.2, 0.02], [0.27, 0.28, 0.03]].map((contrast) => ({ contrast, contrastError: [0.004, 0.004, 0.004] }));
    expect(await open(1).fit({ context, samples, labelled: [] })).toEqual(fitLadder(context, samples));
  });


  it('answers what this thread would have, for every frame its own', async () => {
    const pool = open(2);
    const jobs = [0, 1, 2, 3, 4, 5].map(job);
    const answers = await Promise.all(jobs.map((each) => pool.run(each)));
    for (const [n, each] of jobs.entries()) {
      const here = await runFrameJob(each);
      expect(answers[n]?.measurement).toEqual(here.measurement);
      expect(answers[n]?.mapPicture).toEqual(here.mapPicture && new Uint8Array(here.mapPicture));
    }
    expect(answers.some(({ measurement }) => measurement.detections.length > 0)).toBe(true);
  });

  it('names the frame that cannot be measured, and goes on with the others', async () => {
    const pool = open(1);
    const [torn, whole] = await Promise.all([outcomeOf(pool.run(tornJob(17))), outcomeOf(pool.run(job(18)))]);
    expect(torn).toMatchObject({ code: 'classifierFailed', message: expect.stringContaining('tile 17') });
    expect(whole.code).toBe('ok');
  });

  it('replaces a worker that dies, and tries its frame once more', async () => {
    const pool = open(1);
    const answer = outcomeOf(pool.run(job(3)));
    crash(pool);
    expect(await answer).toEqual({ code: 'ok', message: '' });
  });

  it('ends a worker that says nothing, replaces it, and tries its frame once more', async () => {
    const { clock, pass, waiting } = handClock();
    const pool = open(1, clock);
    deafen(pool);
    const answer = outcomeOf(pool.run(job(3)));
    await new Promise(setImmediate);
    pass(ANSWERS_WITHIN_MS - 1);
    expect(waiting.size).toBe(1);
    pass(ANSWERS_WITHIN_MS);
    expect(await answer).toEqual({ code: 'ok', message: '' });
    expect(waiting.size).toBe(0);
  });

  it('gives up a frame that kills two workers, by name', async () => {
    const pool = open(1);
    const answer = outcomeOf(pool.run(job(4)));
    const isOver = answer.then(() => true);
    const turn = (): Promise<boolean> => new Promise((resolve) => setImmediate(() => resolve(false)));
    while (!(await Promise.race([isOver, turn()]))) crash(pool);
    expect(await answer).toMatchObject({ code: 'classifierFailed', message: expect.stringContaining('tile 4, try 2') });
  });

  it('gives up when worker after worker dies: whatever waits is answered', async () => {
    const pool = open(1);
    const answers = [5, 6, 7, 8].map((tile) => outcomeOf(pool.run(job(tile))));
    const isOver = Promise.all(answers).then(() => true);
    const turn = (): Promise<boolean> => new Promise((resolve) => setImmediate(() => resolve(false)));
    while (!(await Promise.race([isOver, turn()]))) crash(pool);
    expect((await Promise.all(answers)).map(({ code }) => code)).toEqual(['classifierFailed', 'classifierFailed', 'workerLost', 'workerLost']);
    expect((await outcomeOf(pool.run(job(9)))).code).toBe('workerLost');
  });

  it('refuses what comes when too much waits, and what comes after the end', async () => {
    const pool = open(1);
    const small = job(0);
    const answers = Array.from({ length: 70 }, () => outcomeOf(pool.run(small)));
    await pool.close();
    const codes = (await Promise.all(answers)).map(({ code }) => code);
    expect(codes.slice(0, 65)).not.toContain('queueFull');
    expect(codes.slice(65)).toEqual(Array(5).fill('queueFull'));
    expect((await outcomeOf(pool.run(small))).code).toBe('closed');
  });
});
