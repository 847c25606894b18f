import { parentPort } from 'node:worker_threads';
import { recalibrate } from '../../planner/flakes/recalibrate.ts';
import type { RecalibrationReply, RecalibrationRequest } from './recalibration.ts';

/** The thread's door: one request in, one reply out; nothing is kept but what the optics keep for themselves. */
const port = parentPort;
if (port) port.on('message', (request: RecalibrationRequest) => port.postMessage(answer(request)));

function answer({ flakes, context, channels }: RecalibrationRequest): RecalibrationReply {
  try {
    return { ok: true, result: recalibrate(flakes, context, channels) };
  } catch (error) {
    return { ok: false, message: error instanceof Error ? error.message : String(error) };
  }
}
