import { Worker } from 'node:worker_threads';
import { DriverError, type Clock } from '../interfaces/index.ts';
import { builtFile } from './builtFile.ts';
import { NO_COUNTS, type CameraCounters, type Outcome, type Reply, type Task } from './messages.ts';
import { fromProblem } from './problems.ts';

interface Asked {
  readonly id: number;
  readonly resolve: (outcome: Outcome) => void;
  readonly reject: (error: DriverError) => void;
  readonly onExposed: (() => void) | undefined;
}

export interface AskOptions {
  /** The answer is overdue after this. */
  readonly limitMs: number;
  readonly onExposed?: () => void;
}

/** One worker thread and at most one request that it has in hand. */
export class CameraWorker {
  #counters: CameraCounters = NO_COUNTS;
  readonly #clock: Clock;
  readonly #thread: Worker;
  #asked: Asked | undefined;
  #nextId = 0;
  #isGone = false;

  constructor(clock: Clock, file = builtFile('drivers/genicam/worker.js')) {
    this.#clock = clock;
    this.#thread = new Worker(file);
    this.#thread.on('message', (reply: Reply) => this.#replied(reply));
    this.#thread.on('error', (error) => this.#ended(String(error)));
    this.#thread.on('exit', (code) => this.#ended(`the camera's thread ended with code ${code}`));
    this.#thread.unref();
  }

  /** Those of the last reply. */
  get counters(): CameraCounters {
    return this.#counters;
  }

  /** It ended, or was given up as overdue: take another one. */
  get isGone(): boolean {
    return this.#isGone;
  }

  /** One request at a time. Rejects with what the worker found, with `timeout` when overdue, with `disconnected` when the thread ended. */
  async ask(task: Task, { limitMs, onExposed }: AskOptions): Promise<Outcome> {
    if (this.#isGone || this.#asked) throw new DriverError('unsupported', { device: 'camera', what: 'two requests at once' });
    const id = this.#nextId++;
    const done = new AbortController();
    // While an answer is awaited the process must not end.
    this.#thread.ref();
    const answer = new Promise<Outcome>((resolve, reject) => {
      this.#asked = { id, resolve, reject, onExposed };
      this.#thread.postMessage({ id, task });
    });
    this.#clock.sleep(limitMs, done.signal).then(() => this.#overdue(id, task.kind, limitMs), () => undefined);
    try {
      return await answer;
    } finally {
      done.abort();
      this.#thread.unref();
    }
  }

  /** Closes the camera and ends the thread; resolves after `limitMs` at the latest, the thread then ends when it can. */
  async close(limitMs: number): Promise<void> {
    if (this.#isGone) return;
    await this.ask({ kind: 'close' }, { limitMs }).catch(() => undefined);
    this.#isGone = true;
  }

  #replied(reply: Reply): void {
    const asked = this.#asked;
    if (!asked || asked.id !== reply.id) return;
    if ('exposed' in reply) {
      asked.onExposed?.();
      return;
    }
    this.#asked = undefined;
    this.#counters = reply.counters;
    if ('outcome' in reply) asked.resolve(reply.outcome);
    else asked.reject(fromProblem(reply.problem));
  }

  #overdue(id: number, what: string, limitMs: number): void {
    if (this.#asked?.id !== id) return;
    this.#fail(new DriverError('timeout', { device: 'camera', what, waitedMs: limitMs }));
    // It hangs inside the library. Ended by force it would keep the camera for ever: it closes it when it comes back, and ends itself.
    this.#thread.postMessage({ id: this.#nextId++, task: { kind: 'close' } });
  }

  #ended(problem: string): void {
    this.#fail(new DriverError('disconnected', { device: 'camera', problem }));
  }

  #fail(error: DriverError): void {
    this.#isGone = true;
    const asked = this.#asked;
    this.#asked = undefined;
    asked?.reject(error);
  }
}
