import { afterEach, describe, expect, it, vi } from 'vitest';
import type { FramePool } from '../../../daemon/classify/pool.ts';
import { NightjarError } from '../../../daemon/errors/index.ts';
import type { ProgressView } from '../../../daemon/server/messages.ts';
import { randomStream } from '../../../simulators/random.ts';
import { atRest } from '../../support/atRest.ts';
import { heldPool } from '../../support/heldPool.ts';
import { inlinePool } from '../../support/inlinePool.ts';
import { expectSafe } from '../../support/safety.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, startMs, TinyNights } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: the stage waits for the classifier, and no frame is dropped. A law of our own; the bound is the run's own (daemon/run/night.ts). */

const nights = new TinyNights();
afterEach(() => nights.clear());

const framesOnTheWay = 8;

describe('a classifier that is behind', () => {
  it('makes the stage wait at the bound; every tile is taken once and recorded in order', async () => {
    const pool = heldPool();
    const night = nights.makeOnRig({ pool, untied: true });
    const states: string[] = [];
    night.observatory.board.subscribe((message) => {
      if (message.type === 'progress') states.push(message.progress.state);
    });
    const running = night.run();
    const random = randomStream(1, 'backpressure', 'release');
    const tiles = night.opened.plan.tileCount;
    const recorded = (): number => night.records.tileCount(night.opened.runId);
    while (recorded() < tiles) {
      await atRest(() => night.opener.commands.length + pool.seen.length + recorded());
      expect(pool.held.length).toBe(Math.min(framesOnTheWay - countEarly(pool, recorded()), tiles - pool.seen.length + pool.held.length));
      pool.release(random.below(pool.held.length));
    }
    expect((await running).phase).toBe('finished');
    expect(pool.most()).toBe(framesOnTheWay);
    expect(pool.seen).toEqual(Array.from({ length: tiles }, (_, n) => n));
    expect(night.records.tiles(night.opened.runId).map(({ outcome }) => outcome)).toEqual(Array<string>(tiles).fill('done'));
    expect(states).toContain('waiting');
  });
});

/** Frames that were answered out of turn and wait for an older one. */
function countEarly({ seen, held }: { readonly seen: readonly number[]; readonly held: readonly number[] }, recorded: number): number {
  return seen.length - held.length - recorded;
}

/** A pool that fails with an error of the test's on some tiles. */
function failingOn(isBad: (tile: number) => boolean, error: (tile: number) => NightjarError): FramePool {
  const usual = inlinePool();
  return { ...usual, run: (job) => (isBad(job.tile) ? Promise.reject(error(job.tile)) : usual.run(job)) };
}

const broke = (tile: number): NightjarError => new NightjarError('classifierFailed', { message: `tile ${tile}, try 2: it broke` });

describe('a classifier that fails', () => {
  it('on a focus frame is told, also when the night is paused before anything waits for that frame', async () => {
    // Focus frames are read for the flat field under numbers below zero.
    const night = nights.makeOnRig({ files: tinyFiles(fewTiles), pool: failingOn((tile) => tile === -1, broke) });
    const { board } = night.observatory;
    const once = (isTime: (progress: ProgressView) => boolean, act: () => Promise<void>): void => {
      const leave = board.subscribe((message) => {
        if (message.type !== 'progress' || !isTime(message.progress)) return;
        leave();
        void act();
      });
    };
    once(({ sentence }) => sentence.startsWith('Finding focus'), () => night.observatory.pause());
    once(({ state }) => state === 'paused', () => night.observatory.goOn());
    expect((await night.run()).phase).toBe('finished');
    const told = night.records.events(night.opened.runId).filter(({ kind }) => kind === 'trouble');
    expect(told.map(({ text }) => text)).toEqual([expect.stringContaining('tile -1, try 2: it broke')]);
  });

  it('on one frame has that tile left out by name, and the night goes on', async () => {
    const night = nights.makeOnRig({ pool: failingOn((tile) => tile === 6, broke) });
    expect(await night.run()).toMatchObject({ phase: 'finished' });
    const tiles = night.records.tiles(night.opened.runId);
    expect(tiles.map(({ tile }) => tile)).toEqual(Array.from({ length: night.opened.plan.tileCount }, (_, n) => n));
    expect(tiles.filter(({ outcome }) => outcome === 'skipped').map(({ tile, reason }) => [tile, reason])).toEqual([[6, 'classifierFailed']]);
    const told = night.records.events(night.opened.runId).map(({ text }) => text);
    expect(told.some((text) => text.includes('tile 6, try 2: it broke'))).toBe(true);
    expect(told.some((text) => /^T-01, tile 7 of \d+: skipped, the classifier failed on it\.$/.test(text))).toBe(true);
    await expectSafe(night);
  });

  it('on frame after frame parks the night', async () => {
    const night = nights.makeOnRig({ pool: failingOn((tile) => tile >= 6, broke) });
    expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'classifierFailed' });
    const left = night.records.tiles(night.opened.runId).filter(({ outcome }) => outcome === 'skipped').length;
    expect(left).toBeGreaterThanOrEqual(5);
    expect(left).toBeLessThanOrEqual(5 + framesOnTheWay);
    await expectSafe(night);
  });

  it('altogether parks the night with everything before it kept; the tile is taken on resume', async () => {
    const night = nights.makeOnRig({ pool: failingOn((tile) => tile >= 6, () => new NightjarError('workerLost', { exitCode: 134 })) });
    expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'workerLost' });
    expect(night.records.tiles(night.opened.runId).map(({ tile }) => tile)).toEqual([0, 1, 2, 3, 4, 5]);
    await expectSafe(night);
    await night.close();
    const again = nights.make({ folder: night.folder, resume: true, startMs: startMs + 3_600_000 });
    expect((await again.run()).phase).toBe('finished');
    expect(again.records.tiles(again.opened.runId).map(({ outcome }) => outcome)).toEqual(Array(again.opened.plan.tileCount).fill('done'));
  });
});
