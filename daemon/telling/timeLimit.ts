import type { Clock } from '../../drivers/interfaces/index.ts';

/** Runs work that heeds its signal, and aborts that after `ms` or with the outer signal. `timedOut` tells which of them it was. */
export async function withTimeLimit<T>(clock: Clock, ms: number, outer: AbortSignal, work: (signal: AbortSignal, timedOut: () => boolean) => Promise<T>): Promise<T> {
  const limit = new AbortController();
  const over = new AbortController();
  clock.sleep(ms, over.signal).then(
    () => limit.abort(),
    () => undefined,
  );
  try {
    return await work(AbortSignal.any([limit.signal, outer]), () => limit.signal.aborted);
  } finally {
    over.abort();
  }
}
