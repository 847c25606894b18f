import type { Clock } from '../../drivers/interfaces/index.ts';

/** Stands in for the time that people wait by: every wait is over at once, and has taken as long as was asked. */
export function instantClock(startMs: number): Clock {
  let nowMs = startMs;
  return {
    now: () => nowMs,
    async sleep(ms, signal) {
      signal?.throwIfAborted();
      nowMs += ms;
    },
    track: (operation) => operation,
  };
}
