import { DriverError } from '../interfaces/index.ts';

/** Rejects with the code as soon as the signal is aborted, whatever the promise does; leaves no listener behind. */
export async function unlessAborted<T>(promise: Promise<T>, signal: AbortSignal | undefined, code: 'stopped' | 'closed'): Promise<T> {
  if (!signal) return promise;
  return new Promise((resolve, reject) => {
    const onAbort = () => reject(new DriverError(code, { device: 'camera' }));
    if (signal.aborted) onAbort();
    signal.addEventListener('abort', onAbort, { once: true });
    promise.then(resolve, reject).finally(() => signal.removeEventListener('abort', onAbort));
  });
}
