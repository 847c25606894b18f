import type { Clock } from '../../drivers/interfaces/index.ts';
import type { ServerLog } from './log.ts';

/** Calls `beat` again and again with a pause between, until the returned function is called. A beat that fails is logged, and the next one comes. */
export function startPulse(clock: Clock, everyMs: number, beat: () => Promise<void>, log: ServerLog): () => void {
  const end = new AbortController();
  const run = async (): Promise<void> => {
    while (!end.signal.aborted) {
      await clock.sleep(everyMs, end.signal);
      await beat().catch((error: unknown) => log.warn({ error: String(error) }, 'what the server looks after was not looked after'));
    }
  };
  // The sleep is broken off by the end: that is how it ends.
  run().catch(() => undefined);
  return () => end.abort();
}
