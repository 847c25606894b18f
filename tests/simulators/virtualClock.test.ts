import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { paceBy } from '../../simulators/clock/pace.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';

/** A real operation whose end the test decides, in turns of the event loop. */
async function afterTurns<T>(turns: number, value: T): Promise<T> {
  for (let turn = 0; turn < turns; turn++) await new Promise((resolve) => setImmediate(resolve));
  return value;
}

interface Job {
  readonly startMs: number;
  readonly modelledMs: number;
  readonly realTurns: number;
}

/** Runs jobs and sleepers on one clock and writes down what happened when. */
async function diaryOf(jobs: readonly Job[]): Promise<readonly string[]> {
  const clock = new VirtualClock({ startMs: 0 });
  const diary: string[] = [];
  await Promise.all(
    jobs.map(async (job, index) => {
      await clock.sleep(job.startMs);
      diary.push(`${clock.now()} begins ${index}`);
      await clock.track(afterTurns(job.realTurns, index), job.modelledMs);
      diary.push(`${clock.now()} ends ${index}`);
      await clock.sleep(3);
      diary.push(`${clock.now()} rested ${index}`);
    }),
  );
  return diary;
}

describe('virtual clock', () => {
  it('starts at the given moment and stands still while nobody waits', async () => {
    const clock = new VirtualClock({ startMs: 777 });
    await afterTurns(20, undefined);
    expect(clock.now()).toBe(777);
    await clock.sleep(86_400_000);
    expect(clock.now()).toBe(777 + 86_400_000);
  });

  it('delivers a tracked result exactly when it is due, however late it really is', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const ticks: number[] = [];
    const ticking = (async () => {
      for (let tick = 0; tick < 10; tick++) {
        await clock.sleep(10);
        ticks.push(clock.now());
      }
    })();
    const value = await clock.track(afterTurns(200, 'late'), 35);
    expect(value).toBe('late');
    expect(clock.now()).toBe(35);
    expect(ticks).toEqual([10, 20, 30]);
    await ticking;
  });

  it('never passes the due moment of an operation that has not ended', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    let hasEnded = false;
    const operation = afterTurns(100, 'done').then(() => {
      hasEnded = true;
    });
    void clock.track(operation, 50);
    await clock.sleep(50.5);
    expect(hasEnded).toBe(true);
  });

  it('carries a rejection to the moment it is due', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const failing = clock.track(Promise.reject(new Error('lost')), 40);
    const sleeping = clock.sleep(39).then(() => clock.now());
    await expect(failing).rejects.toThrow('lost');
    expect(clock.now()).toBe(40);
    expect(await sleeping).toBe(39);
  });

  it('gives the same history whatever the real latency (property)', async () => {
    const job = fc.record({ startMs: fc.integer({ min: 0, max: 30 }), modelledMs: fc.integer({ min: 0, max: 30 }), realTurns: fc.constant(0) });
    const jobs = fc.array(fc.tuple(job, fc.integer({ min: 0, max: 25 })), { minLength: 1, maxLength: 6 });
    await fc.assert(
      fc.asyncProperty(jobs, async (drawn) => {
        const swift = await diaryOf(drawn.map(([each]) => each));
        const slow = await diaryOf(drawn.map(([each, realTurns]) => ({ ...each, realTurns })));
        expect(slow).toEqual(swift);
      }),
      { numRuns: 40 },
    );
  });

  it('forgets an aborted sleep: time does not run to its end', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const stop = new AbortController();
    const long = clock.sleep(1000, stop.signal).catch(() => 'aborted');
    await clock.sleep(5);
    stop.abort(new Error('enough'));
    expect(await long).toBe('aborted');
    await afterTurns(20, undefined);
    expect(clock.now()).toBe(5);
  });

  it('refuses all waiting once closed', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const waiting = [clock.sleep(10), clock.track(new Promise(() => undefined), 10)];
    clock.close();
    for (const each of waiting) await expect(each).rejects.toMatchObject({ code: 'closed' });
    await expect(clock.sleep(1)).rejects.toMatchObject({ code: 'closed' });
    await expect(clock.track(Promise.resolve(1), 1)).rejects.toMatchObject({ code: 'closed' });
  });

  it('runs no faster than its pace, and looks again when something earlier comes up', async () => {
    const real = new VirtualClock({ startMs: 0 });
    const clock = new VirtualClock({ startMs: 0, pace: paceBy(real, 0.5) });
    const long = clock.sleep(1000);
    await afterTurns(3, undefined);
    await clock.sleep(100);
    expect([clock.now(), real.now()]).toEqual([100, 50]);
    await long;
    expect([clock.now(), real.now()]).toEqual([1000, 500]);
    await real.sleep(10_000);
    await clock.sleep(10);
    await clock.sleep(10);
    expect(real.now()).toBe(10_505);
  });
});
