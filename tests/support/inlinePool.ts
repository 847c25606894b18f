import type { FramePool } from '../../daemon/classify/pool.ts';
import { runFrameJob } from '../../daemon/classify/runFrameJob.ts';

/** Measures frames in this thread: no start of workers to wait for. The same results by the pool's own promise. */
export function inlinePool(): FramePool {
  return { run: runFrameJob, close: async () => undefined };
}
