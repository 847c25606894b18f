import { describe, expect, it } from 'vitest';
import type { Clock } from '../../drivers/interfaces/index.ts';

/** What every clock must hold. `open` gives a fresh one; waits here are a few ms, so that real clocks are quick too. */
export function clockContract(name: string, open: () => Clock): void {
  describe(`clock contract: ${name}`, () => {
    it('has moved on by at least the time slept', async () => {
      const clock = open();
      const before = clock.now();
      await clock.sleep(8);
      // A real timer may fire up to one ms before the wall clock's ms turns over.
      expect(clock.now() - before).toBeGreaterThanOrEqual(7);
    });

    it('wakes sleepers in order of time, then of asking', async () => {
      const clock = open();
      const woken: string[] = [];
      const sleepers = [
        clock.sleep(24).then(() => woken.push('last')),
        clock.sleep(2).then(() => woken.push('first')),
        clock.sleep(2).then(() => woken.push('second')),
      ];
      await Promise.all(sleepers);
      expect(woken).toEqual(['first', 'second', 'last']);
    });

    it('rejects with the reason when aborted before and during the sleep', async () => {
      const clock = open();
      const reason = new Error('the reason');
      await expect(clock.sleep(1, AbortSignal.abort(reason))).rejects.toBe(reason);
      const stop = new AbortController();
      const sleeping = clock.sleep(3_600_000, stop.signal);
      stop.abort(reason);
      await expect(sleeping).rejects.toBe(reason);
    });

    it('takes a negative time as none and refuses one that is no number', async () => {
      const clock = open();
      await clock.sleep(-5);
      await expect(clock.sleep(Number.NaN)).rejects.toBeInstanceOf(RangeError);
      await expect(clock.sleep(Number.POSITIVE_INFINITY)).rejects.toBeInstanceOf(RangeError);
    });

    it('hands on the result and the error of a tracked operation', async () => {
      const clock = open();
      await expect(clock.track(Promise.resolve('done'), 3)).resolves.toBe('done');
      const error = new Error('failed');
      await expect(clock.track(Promise.reject(error), 3)).rejects.toBe(error);
    });
  });
}
