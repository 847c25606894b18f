import { fitLadder } from '../../planner/layers/ladder.ts';
import type { WorkerJob, WorkerResult } from './job.ts';
import { runFrameJob } from './runFrameJob.ts';

/** Does one job. Keeps nothing of it; the optics keep their own tables for the next ladder. */
export async function runJob(job: WorkerJob): Promise<WorkerResult> {
  if (job.kind === 'frame') return { kind: 'frame', result: await runFrameJob(job.job) };
  const { context, samples, labelled } = job.request;
  return { kind: 'ladder', ladder: fitLadder(context, samples, labelled) };
}
