import type { Clock } from '../interfaces/index.ts';

/** Ends as the operation does, or with the error that `late` makes when `ms` are over first. The operation itself is not ended by that. */
export async function within<T>(clock: Clock, ms: number, operation: Promise<T>, late: () => Error): Promise<T> {
  const done = new AbortController();
  const limit = new Promise<never>((_, reject) => {
    clock.sleep(ms, done.signal).then(
      () => reject(late()),
      () => undefined,
    );
  });
  // Whoever has stopped listening shall not be told of a failure that comes later.
  operation.catch(() => undefined);
  try {
    return await Promise.race([operation, limit]);
  } finally {
    done.abort();
  }
}
