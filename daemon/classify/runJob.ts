import { fitRequest } from '../../planner/flakes/samples.ts';
import type { WorkerJob, WorkerResult } from './job.ts';
import { runFrameJob } from './runFrameJob.ts';

/** Does one job. Keeps nothing of it; the optics keep their own tables for the next ladder. */
export async function runJob(job: WorkerJob): Promise<WorkerResult> {
  if (job.kind === 'frame') return { kind: 'frame', result: await runFrameJob(job.job) };
  return { kind: 'ladder', ladder: fitRequest(job.request) };
}
