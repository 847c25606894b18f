import type { FramePool } from '../../daemon/classify/pool.ts';
import { runFrameJob } from '../../daemon/classify/runFrameJob.ts';
import { fitRequest } from '../../planner/flakes/samples.ts';

/** Fits a ladder in this thread. */
export const fitHere: FramePool['fit'] = (request) => Promise.resolve(fitRequest(request));

/** Measures frames in this thread: no start of workers to wait for. The same results by the pool's own promise. */
export function inlinePool(): FramePool {
  return { run: runFrameJob, fit: fitHere, close: async () => undefined };
}
