import { parentPort } from 'node:worker_threads';
import type { WorkerReply, WorkerRequest } from './job.ts';
import { runJob } from './runJob.ts';

/** The thread's door: one request in, one reply out, nothing kept between jobs. */
const port = parentPort;
if (port) {
  port.on('message', (request: WorkerRequest) => {
    void answer(request).then((reply) => port.postMessage(reply));
  });
}

async function answer(request: WorkerRequest): Promise<WorkerReply> {
  try {
    return { id: request.id, ok: true, result: await runJob(request.job) };
  } catch (error) {
    return { id: request.id, ok: false, message: error instanceof Error ? (error.stack ?? error.message) : String(error) };
  }
}
