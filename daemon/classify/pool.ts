import { Worker } from 'node:worker_threads';
import { DriverError, type CameraFrame, type Clock } from '../../drivers/interfaces/index.ts';
import { builtFile } from '../builtFile.ts';
import { NightjarError } from '../errors/index.ts';
import type { LadderRequest } from '../../planner/flakes/samples.ts';
import type { Ladder } from '../../planner/layers/types.ts';
import type { FrameJob, FrameJobResult, WorkerJob, WorkerReply, WorkerRequest, WorkerResult } from './job.ts';

/** Runs frame jobs and fits ladders. Results depend on the job alone, never on who runs it or when. */
export interface FramePool {
  run(job: FrameJob): Promise<FrameJobResult>;
  /** The same as `fitLadder`, which would stop the thread that drives the stage. */
  fit(request: LadderRequest): Promise<Ladder>;
  close(): Promise<void>;
}

interface Waiting {
  readonly job: WorkerJob;
  readonly resolve: (result: WorkerResult) => void;
  readonly reject: (error: unknown) => void;
  tries: number;
}

/** A worker that dies is replaced and its frame tried once more; a frame that kills two workers is given up by name. */
const triesPerFrame = 2;

/** A worker that says nothing for so long hangs, and is ended: the largest frames take a hundredth of it, ladders a tenth. */
export const ANSWERS_WITHIN_MS = 120_000;

/** So many workers that die one after the other without an answer cannot be helped by another one. */
const deathsInARow = 5;

/** Jobs that may wait for a worker; whoever feeds the pool keeps well below (see the pipeline's bound). */
const waitingMax = 64;

/** Classifier workers on threads of their own. Frames travel in shared memory, and are still there when a worker dies or hangs. */
export class WorkerPool implements FramePool {
  private readonly idle: PoolWorker[] = [];
  private readonly all = new Set<PoolWorker>();
  private readonly waiting: Waiting[] = [];
  private closed = false;
  private deaths = 0;
  private lastExitCode = 0;
  private readonly clock: Clock;

  /** @param clock the time that workers take: the computer's own, never a simulated night's */
  constructor(workers: number, clock: Clock) {
    this.clock = clock;
    for (let n = 0; n < workers; n++) this.addWorker();
  }

  async run(job: FrameJob): Promise<FrameJobResult> {
    const done = await this.submit({ kind: 'frame', job: inSharedMemory(job) });
    if (done.kind !== 'frame') throw new NightjarError('internal', { reason: 'a worker answered a frame with a ladder' });
    return done.result;
  }

  async fit(request: LadderRequest): Promise<Ladder> {
    const done = await this.submit({ kind: 'ladder', request });
    if (done.kind !== 'ladder') throw new NightjarError('internal', { reason: 'a worker answered a ladder with a frame' });
    return done.ladder;
  }

  private submit(job: WorkerJob): Promise<WorkerResult> {
    if (this.closed) return Promise.reject(new DriverError('closed', { device: 'classifier' }));
    if (this.all.size === 0) return Promise.reject(this.workersLost());
    if (this.waiting.length >= waitingMax) return Promise.reject(new NightjarError('queueFull', { waiting: this.waiting.length }));
    return new Promise((resolve, reject) => {
      this.waiting.push({ job, resolve, reject, tries: 0 });
      this.hand();
    });
  }

  async close(): Promise<void> {
    this.closed = true;
    for (const left of this.waiting.splice(0)) left.reject(new DriverError('closed', { device: 'classifier' }));
    await Promise.all([...this.all].map((worker) => worker.stop()));
  }

  private addWorker(): void {
    const worker = new PoolWorker(this.clock, (gone, exitCode) => this.replace(gone, exitCode));
    this.all.add(worker);
    this.idle.push(worker);
  }

  private replace(gone: PoolWorker, exitCode: number): void {
    this.lastExitCode = exitCode;
    this.all.delete(gone);
    const at = this.idle.indexOf(gone);
    if (at >= 0) this.idle.splice(at, 1);
    if (this.closed) return;
    this.deaths++;
    if (this.deaths < deathsInARow) this.addWorker();
    if (this.all.size > 0) this.hand();
    else for (const left of this.waiting.splice(0)) left.reject(this.workersLost());
  }

  private hand(): void {
    while (this.idle.length > 0 && this.waiting.length > 0) {
      const worker = this.idle.pop();
      const next = this.waiting.shift();
      if (worker && next) this.start(worker, next);
    }
  }

  private start(worker: PoolWorker, next: Waiting): void {
    next.tries++;
    worker.work(next.job).then(
      (result) => {
        this.deaths = 0;
        this.idle.push(worker);
        next.resolve(result);
        this.hand();
      },
      (error: unknown) => this.failed(worker, next, error),
    );
  }

  private failed(worker: PoolWorker, next: Waiting, error: unknown): void {
    if (worker.alive) this.idle.push(worker);
    if (this.all.size === 0 && !this.closed) next.reject(this.workersLost());
    else if (worker.alive || this.closed || next.tries >= triesPerFrame) {
      const reason = error instanceof Error ? error.message : String(error);
      next.reject(new NightjarError('classifierFailed', { message: `${nameOf(next.job)}, try ${next.tries}: ${reason}` }, { cause: error }));
    } else this.waiting.unshift(next);
    this.hand();
  }

  private workersLost(): NightjarError {
    return new NightjarError('workerLost', { exitCode: this.lastExitCode });
  }
}

/** One thread with at most one job in hand. */
class PoolWorker {
  alive = true;
  private readonly thread: Worker;
  private inHand: { resolve: (result: WorkerResult) => void; reject: (error: unknown) => void; id: number } | undefined;
  private nextId = 0;
  private readonly clock: Clock;

  constructor(clock: Clock, onGone: (worker: PoolWorker, exitCode: number) => void) {
    this.clock = clock;
    this.thread = new Worker(builtFile('daemon/classify/worker.js'));
    this.thread.on('message', (reply: WorkerReply) => this.answered(reply));
    this.thread.on('error', (error) => this.lost(error));
    this.thread.on('exit', (code) => {
      this.lost(new Error(`the worker ended with code ${code}`));
      onGone(this, code);
    });
  }

  /** Rejects when the thread ends, or is ended because it has not answered in time. */
  async work(job: WorkerJob): Promise<WorkerResult> {
    const answered = new AbortController();
    const answer = new Promise<WorkerResult>((resolve, reject) => {
      const id = this.nextId++;
      this.inHand = { resolve, reject, id };
      const request: WorkerRequest = { id, job };
      this.thread.postMessage(request);
    });
    this.clock.sleep(ANSWERS_WITHIN_MS, answered.signal).then(
      () => this.hung(),
      () => undefined,
    );
    try {
      return await answer;
    } finally {
      answered.abort();
    }
  }

  async stop(): Promise<void> {
    await this.thread.terminate();
  }

  /** The thread is replaced when it has ended. */
  private hung(): void {
    this.lost(new Error(`the worker has not answered for ${ANSWERS_WITHIN_MS / 1000} s`));
    void this.thread.terminate();
  }

  private answered(reply: WorkerReply): void {
    const hand = this.inHand;
    if (!hand || hand.id !== reply.id) return;
    this.inHand = undefined;
    if (reply.ok) hand.resolve(reply.result);
    else hand.reject(new Error(reply.message));
  }

  private lost(error: unknown): void {
    this.alive = false;
    const hand = this.inHand;
    this.inHand = undefined;
    hand?.reject(error);
  }
}

function nameOf(job: WorkerJob): string {
  return job.kind === 'frame' ? `tile ${job.job.tile}` : 'the contrast ladder';
}

function inSharedMemory(job: FrameJob): FrameJob {
  const { frame, short } = job.input;
  return { ...job, input: { ...job.input, frame: frameInSharedMemory(frame), ...(short ? { short: frameInSharedMemory(short) } : {}) } };
}

/** A camera that reads its frames into shared memory has done this already. */
function frameInSharedMemory(frame: CameraFrame): CameraFrame {
  if (frame.data.buffer instanceof SharedArrayBuffer) return frame;
  const shared = frame.data instanceof Uint8Array ? new Uint8Array(new SharedArrayBuffer(frame.data.byteLength)) : new Uint16Array(new SharedArrayBuffer(frame.data.byteLength));
  shared.set(frame.data);
  return { ...frame, data: shared };
}
