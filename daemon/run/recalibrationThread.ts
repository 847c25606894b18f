import { Worker } from 'node:worker_threads';
import { builtFile } from '../builtFile.ts';
import { NightjarError } from '../errors/index.ts';
import type { Recalibrated } from '../../planner/flakes/recalibrate.ts';
import type { Recalibrate, RecalibrationReply, RecalibrationRequest } from './recalibration.ts';

interface InHand {
  readonly resolve: (result: Recalibrated) => void;
  readonly reject: (error: unknown) => void;
}

/**
 * A thread of its own for reading chips again, begun when it is first needed and kept: it keeps the optics of its last chips, which take
 * longer to make than a ladder to fit. It is asked one thing at a time. It does not hold the process.
 */
export class RecalibrationThread {
  private thread: Worker | undefined;
  private inHand: InHand | undefined;

  /** Rejects with `workerLost` when the thread ends before it has answered; the next request then begins a new one. */
  readonly recalibrate: Recalibrate = (request) =>
    new Promise((resolve, reject) => {
      if (this.inHand) return reject(new NightjarError('internal', { reason: 'a chip is being read again already' }));
      this.inHand = { resolve, reject };
      try {
        this.ask(request);
      } catch (error) {
        this.take()?.reject(error);
      }
    });

  async close(): Promise<void> {
    await this.thread?.terminate();
  }

  private ask(request: RecalibrationRequest): void {
    this.thread ??= this.begin();
    this.thread.postMessage(request);
  }

  private begin(): Worker {
    const thread = new Worker(builtFile('daemon/run/recalibrationWorker.js'));
    thread.unref();
    thread.on('message', (reply: RecalibrationReply) => this.answered(reply));
    thread.on('error', () => undefined);
    thread.on('exit', (exitCode) => {
      this.thread = undefined;
      this.take()?.reject(new NightjarError('workerLost', { exitCode }));
    });
    return thread;
  }

  private answered(reply: RecalibrationReply): void {
    const hand = this.take();
    if (reply.ok) hand?.resolve(reply.result);
    else hand?.reject(new NightjarError('internal', { reason: reply.message }));
  }

  private take(): InHand | undefined {
    const hand = this.inHand;
    this.inHand = undefined;
    return hand;
  }
}
