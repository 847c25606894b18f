import { DriverError, type Camera, type CameraFrame, type CameraInfo, type CameraSettings, type Clock } from '../interfaces/index.ts';
import { CameraWorker } from './cameraWorker.ts';
import { NO_COUNTS, type CameraCounters, type CameraFacts, type OpenOptions, type Outcome, type Task } from './messages.ts';
import { unlessAborted } from './unlessAborted.ts';

/** Beyond what the worker's own waits add up to: only a call that hangs inside the library takes longer. */
const SLACK_MS = 30_000;
const OPEN_LIMIT_MS = 45_000;
const CLOSE_LIMIT_MS = 3000;
/** A second frame can be asked for while an aborted one is still coming in; more than these few is a mistake of the caller. */
const WAITING_MAX = 4;

function sum(a: CameraCounters, b: CameraCounters): CameraCounters {
  return {
    frames: a.frames + b.frames,
    retries: a.retries + b.retries,
    missingPackets: a.missingPackets + b.missingPackets,
    resentPackets: a.resentPackets + b.resentPackets,
    timeouts: a.timeouts + b.timeouts,
    reopenings: a.reopenings + b.reopenings,
    lastFrameId: b.lastFrameId,
  };
}

/** What a camera on a thread of its own is made of. */
export interface GenicamParts {
  /** Must run with the computer's time: the worker has a clock of its own. */
  readonly clock: Clock;
  readonly options: OpenOptions;
  readonly startWorker: () => CameraWorker;
}

/** The main thread's side: keeps order and time limits; the library is only ever called by the worker. */
export class GenicamCamera implements Camera {
  readonly facts: CameraFacts;
  readonly #parts: GenicamParts;
  readonly #closing = new AbortController();
  #worker: CameraWorker;
  #settings: CameraSettings | undefined;
  #tail: Promise<void> = Promise.resolve();
  #waiting = 0;
  /** Of workers that were given up. */
  #earlier: CameraCounters = NO_COUNTS;

  private constructor(parts: GenicamParts, worker: CameraWorker, facts: CameraFacts) {
    this.#parts = parts;
    this.#worker = worker;
    this.facts = facts;
  }

  /** Rejects with `libraryMissing`, `noSuchCamera`, `cameraBusy`, `formatNotOffered`, `notForcedOff`, `unsupported`, `disconnected`, `deviceError`. */
  static async open(parts: GenicamParts): Promise<GenicamCamera> {
    const worker = parts.startWorker();
    try {
      const opened = await worker.ask({ kind: 'open', options: parts.options }, { limitMs: OPEN_LIMIT_MS });
      if (opened.kind === 'opened') return new GenicamCamera(parts, worker, opened.facts);
      throw new DriverError('badReply', { device: 'camera', seen: opened.kind });
    } catch (error) {
      await worker.close(CLOSE_LIMIT_MS);
      throw error;
    }
  }

  get info(): CameraInfo {
    return this.facts.info;
  }

  /** For the log: how many frames, and at what cost. */
  get counters(): CameraCounters {
    return sum(this.#earlier, this.#worker.counters);
  }

  async configure(settings: CameraSettings): Promise<CameraSettings> {
    this.#check();
    const answer = this.#queued(() => this.#ask({ kind: 'configure', settings }));
    const outcome = await unlessAborted(answer, this.#closing.signal, 'closed');
    if (outcome.kind !== 'configured') throw new DriverError('badReply', { device: 'camera', seen: outcome.kind });
    this.#settings = outcome.settings;
    return outcome.settings;
  }

  async snap(signal?: AbortSignal, onExposed?: () => void): Promise<CameraFrame> {
    this.#check();
    if (signal?.aborted) throw new DriverError('stopped', { device: 'camera' });
    let isOver = false;
    const expose = () => {
      if (!isOver) onExposed?.();
      isOver = true;
    };
    try {
      const taken = unlessAborted(this.#take(signal, expose), this.#closing.signal, 'closed');
      return await unlessAborted(taken, signal, 'stopped');
    } finally {
      isOver = true;
    }
  }

  async close(): Promise<void> {
    if (this.#closing.signal.aborted) return;
    this.#closing.abort();
    // What is under way ends first: its frame belongs to nobody any more.
    const { clock } = this.#parts;
    const done = new AbortController();
    const limit = clock.sleep(CLOSE_LIMIT_MS, done.signal).catch(() => undefined);
    await Promise.race([this.#tail, limit]);
    done.abort();
    await this.#worker.close(CLOSE_LIMIT_MS);
  }

  #check(): void {
    if (this.#closing.signal.aborted) throw new DriverError('closed', { device: 'camera' });
  }

  async #take(signal: AbortSignal | undefined, expose: () => void): Promise<CameraFrame> {
    const frame = await this.#queued(async () => {
      if (signal?.aborted) throw new DriverError('stopped', { device: 'camera' });
      const outcome = await this.#ask({ kind: 'snap' }, expose);
      if (outcome.kind !== 'frame') throw new DriverError('badReply', { device: 'camera', seen: outcome.kind });
      return outcome.frame;
    });
    // A real camera cannot be early; a simulated one does not take the time to expose.
    const leftMs = frame.takenAtMs + frame.exposureMs - this.#parts.clock.now();
    if (leftMs > 0) await this.#parts.clock.sleep(Math.ceil(leftMs), signal);
    expose();
    return frame;
  }

  /** One after the other. */
  #queued<T>(act: () => Promise<T>): Promise<T> {
    if (this.#waiting >= WAITING_MAX) return Promise.reject(new DriverError('unsupported', { device: 'camera', what: 'so many frames at once', waiting: this.#waiting }));
    this.#waiting++;
    const result = this.#tail.then(() => {
      this.#check();
      return act();
    });
    const settled = () => {
      this.#waiting--;
    };
    this.#tail = result.then(settled, settled);
    return result;
  }

  #limitMs(): number {
    const { retries, freeRunSkip, patienceMs } = this.#parts.options;
    const exposureMs = this.#settings?.exposureMs ?? this.info.exposureMaxMs;
    return (retries + 1) * ((2 + freeRunSkip) * exposureMs + patienceMs) + SLACK_MS;
  }

  async #ask(task: Task, onExposed?: () => void): Promise<Outcome> {
    try {
      if (this.#worker.isGone) await this.#replaceWorker();
      return await this.#worker.ask(task, { limitMs: this.#limitMs(), ...(onExposed ? { onExposed } : {}) });
    } catch (error) {
      // A worker that hangs or has ended is to the caller a camera that is gone; the next call takes a new one.
      if (error instanceof DriverError && error.code === 'timeout') throw new DriverError('disconnected', { ...error.details, device: 'camera' }, { cause: error });
      throw error;
    }
  }

  /** A new thread, the same camera by its serial number, the same settings. */
  async #replaceWorker(): Promise<void> {
    this.#earlier = sum(this.#earlier, this.#worker.counters);
    const { options, startWorker } = this.#parts;
    this.#worker = startWorker();
    const camera = 'address' in options.camera ? options.camera : { serial: this.facts.serial };
    try {
      await this.#worker.ask({ kind: 'open', options: { ...options, camera } }, { limitMs: OPEN_LIMIT_MS });
      if (this.#settings) await this.#worker.ask({ kind: 'configure', settings: this.#settings }, { limitMs: OPEN_LIMIT_MS });
    } catch (error) {
      // Without an open camera this thread is of no use: the next call tries another.
      await this.#worker.close(CLOSE_LIMIT_MS);
      if (!(error instanceof DriverError)) throw error;
      throw new DriverError('disconnected', { device: 'camera', serial: this.facts.serial, reason: error.code }, { cause: error });
    }
  }
}
