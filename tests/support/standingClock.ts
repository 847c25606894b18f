import type { Clock } from '../../drivers/interfaces/index.ts';

/** Time that stands still: no wait ever ends, but for its signal. For a watchdog over work that no virtual clock knows of. */
export const standingClock: Clock = {
  now: () => 0,
  sleep: (_, signal) => new Promise((_resolve, reject) => signal?.addEventListener('abort', () => reject(signal.reason as Error), { once: true })),
  track: (operation) => operation,
};
