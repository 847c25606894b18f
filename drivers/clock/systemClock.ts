import { getEnvironmentData, setEnvironmentData } from 'node:worker_threads';
import type { Clock } from '../interfaces/index.ts';

/** Under this name threads find the time of day at which the steady clock stood at zero: one for a whole process, or their times would not agree. */
const ZERO = 'nightjar: time of day at zero of the steady clock';

function steadyMs(): number {
  return Number(process.hrtime.bigint()) / 1e6;
}

/** Threads that are begun later inherit it. */
function zeroMs(): number {
  const known: unknown = getEnvironmentData(ZERO);
  if (typeof known === 'number') return known;
  const zero = Date.now() - steadyMs();
  setEnvironmentData(ZERO, zero);
  return zero;
}

/** The longest wait that one timer can hold (a signed 32-bit number of ms); longer sleeps are cut into pieces. */
const LONGEST_TIMER_MS = 2_147_483_647;

/** One timer; rejects with the signal's reason when aborted, and leaves no listener behind. */
function wait(ms: number, signal: AbortSignal | undefined): Promise<void> {
  return new Promise((resolve, reject) => {
    if (signal?.aborted) {
      reject(signal.reason as Error);
      return;
    }
    const onAbort = () => {
      clearTimeout(timer);
      reject(signal?.reason as Error);
    };
    const timer = setTimeout(() => {
      signal?.removeEventListener('abort', onAbort);
      resolve();
    }, ms);
    signal?.addEventListener('abort', onAbort, { once: true });
  });
}

/**
 * Real time: the only place in Nightjar that asks the computer for it. It begins with the time of day and goes on by the computer's steady
 * clock, which nobody can set: neither a person nor a time server makes a run wait for hours, or not at all. `sleep` rejects with
 * RangeError for NaN or endless times.
 */
export function createSystemClock(): Clock {
  const startMs = zeroMs();
  return {
    now: () => Math.floor(startMs + steadyMs()),
    timeOfDay: () => Date.now(),
    async sleep(ms, signal) {
      if (!Number.isFinite(ms)) throw new RangeError(`sleep of ${ms} ms`);
      let leftMs = Math.max(0, ms);
      do {
        const pieceMs = Math.min(leftMs, LONGEST_TIMER_MS);
        await wait(pieceMs, signal);
        leftMs -= pieceMs;
      } while (leftMs > 0);
    },
    track: (operation) => operation,
  };
}
