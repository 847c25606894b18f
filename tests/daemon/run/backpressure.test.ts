import { afterEach, describe, expect, it } from 'vitest';
import { NightjarError } from '../../../daemon/errors/index.ts';
import { randomStream } from '../../../simulators/random.ts';
import { atRest } from '../../support/atRest.ts';
import { heldPool } from '../../support/heldPool.ts';
import { inlinePool } from '../../support/inlinePool.ts';
import { slowMachineMs, startMs, TinyNights } from '../../support/tinyNight.ts';

/** Protects: the stage waits for the classifier, and no frame is dropped. A law of our own; the bound is the run's own (daemon/run/night.ts). */

const nights = new TinyNights();
afterEach(() => nights.clear());

const framesOnTheWay = 4;

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
  }, slowMachineMs);
});

/** Frames that were answered out of turn and wait for an older one. */
function countEarly({ seen, held }: { readonly seen: readonly number[]; readonly held: readonly number[] }, recorded: number): number {
  return seen.length - held.length - recorded;
}

describe('a classifier that fails on a frame', () => {
  it('parks the night with everything before it kept; the tile is taken again on resume', async () => {
    const usual = inlinePool();
    const pool = { ...usual, run: (job: Parameters<typeof usual.run>[0]) => (job.tile === 6 ? Promise.reject(new NightjarError('classifierFailed', { message: 'tile 6, try 2: it broke' })) : usual.run(job)) };
    const night = nights.makeOnRig({ pool });
    expect(await night.run()).toMatchObject({ phase: 'parked', cause: 'classifierFailed' });
    expect(night.records.tiles(night.opened.runId).map(({ tile }) => tile)).toEqual([0, 1, 2, 3, 4, 5]);
    expect(await night.opener.instrument.focus.position()).toBeGreaterThanOrEqual(night.opened.config.limits.safeHeightUm);
    expect(await night.opener.instrument.lamp.intensity()).toBe(0);
    expect(night.records.events(night.opened.runId).some(({ kind, text }) => kind === 'trouble' && text.includes('tile 6, try 2'))).toBe(true);
    await night.close();
    const again = nights.make({ folder: night.folder, resume: true, startMs: startMs + 3_600_000 });
    expect((await again.run()).phase).toBe('finished');
    expect(again.records.tileCount(again.opened.runId)).toBe(again.opened.plan.tileCount);
  }, slowMachineMs);
});
