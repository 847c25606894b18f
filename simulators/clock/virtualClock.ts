import { DriverError, type Clock } from '../../drivers/interfaces/index.ts';
import { Agenda, type Appointment } from './agenda.ts';

/** Turns of the event loop given to running code before time may jump: a chain of promises needs one, streams and ports a few. */
const TURNS_BEFORE_A_JUMP = 3;

/**
 * Holds time back, so that a person can watch: resolves when virtual time, now at `fromMs`, may move on to `toMs`. The signal is
 * aborted when something earlier has come up meanwhile; the pace is then asked again with another `toMs`.
 */
export type Pace = (fromMs: number, toMs: number, signal: AbortSignal) => Promise<void>;

export interface VirtualClockOptions {
  /** What `now()` says at first, ms since 1970. */
  readonly startMs: number;
  readonly pace?: Pace;
}

function oneTurn(): Promise<void> {
  return new Promise((resolve) => {
    setImmediate(resolve);
  });
}

/**
 * Time that jumps from one appointment to the next. It jumps only after running code has come to rest, and never past the
 * moment at which a tracked operation is due before that operation has really ended. Results are delivered one at a time, by
 * moment and then by order of registration, so that a night depends neither on how fast nor on how many the workers are.
 * Real work that is not tracked is invisible to it: time may pass meanwhile.
 */
export class VirtualClock implements Clock {
  #nowMs: number;
  #pace: Pace | undefined;
  #order = 0;
  #running = false;
  #closed = false;
  #pacing: AbortController | undefined;
  readonly #agenda = new Agenda();

  constructor(options: VirtualClockOptions) {
    this.#nowMs = options.startMs;
    this.#pace = options.pace;
  }

  now(): number {
    return this.#nowMs;
  }

  /** Changes the pace from the next jump on; as fast as can be when `undefined`. */
  setPace(pace: Pace | undefined): void {
    this.#pace = pace;
  }

  /** Rejects with the signal's reason when aborted, with `closed` when the clock is closed, with RangeError for NaN or endless times. */
  sleep(ms: number, signal?: AbortSignal): Promise<void> {
    return new Promise((resolve, reject) => {
      if (!this.#accepts(ms, reject)) return;
      if (signal?.aborted) {
        reject(signal.reason as Error);
        return;
      }
      const onAbort = () => {
        if (this.#agenda.remove(appointment)) reject(signal?.reason as Error);
      };
      const leave = () => signal?.removeEventListener('abort', onAbort);
      const appointment = this.#appoint(ms, undefined, {
        deliver: () => {
          leave();
          resolve();
        },
        refuse: (reason) => {
          leave();
          reject(reason);
        },
      });
      signal?.addEventListener('abort', onAbort, { once: true });
    });
  }

  /** See {@link Clock.track}. Rejections travel the same way: at the same virtual moment. */
  track<T>(operation: Promise<T>, modelledMs: number): Promise<T> {
    return new Promise((resolve, reject) => {
      let settle: () => void = () => undefined;
      const settled = operation.then(
        (value) => {
          settle = () => resolve(value);
        },
        (error: Error) => {
          settle = () => reject(error);
        },
      );
      if (!this.#accepts(modelledMs, reject)) return;
      const appointment = this.#appoint(modelledMs, settled, { deliver: () => settle(), refuse: reject });
      void settled.then(() => {
        appointment.readyWhen = undefined;
      });
    });
  }

  /** Ends all waiting with the code `closed`; whoever waits later is refused the same way. */
  close(): void {
    this.#closed = true;
    this.#pacing?.abort();
    for (const appointment of this.#agenda.clear()) appointment.refuse(new DriverError('closed', { device: 'clock' }));
  }

  #accepts(ms: number, reject: (reason: Error) => void): boolean {
    if (this.#closed) reject(new DriverError('closed', { device: 'clock' }));
    else if (!Number.isFinite(ms)) reject(new RangeError(`a wait of ${ms} ms`));
    else return true;
    return false;
  }

  #appoint(ms: number, readyWhen: Promise<void> | undefined, ends: Pick<Appointment, 'deliver' | 'refuse'>): Appointment {
    const appointment: Appointment = { dueMs: this.#nowMs + Math.max(0, ms), order: this.#order++, readyWhen, ...ends };
    this.#agenda.add(appointment);
    if (this.#agenda.first === appointment) this.#pacing?.abort();
    if (!this.#running) void this.#run();
    return appointment;
  }

  async #run(): Promise<void> {
    this.#running = true;
    while (this.#agenda.first) await this.#step();
    this.#running = false;
  }

  /** One turn of the clock: rests, then delivers the first appointment, unless waiting for it has changed which one is first. */
  async #step(): Promise<void> {
    for (let turn = 0; turn < TURNS_BEFORE_A_JUMP; turn++) await oneTurn();
    const next = this.#agenda.first;
    if (!next) return;
    if (next.readyWhen) {
      await next.readyWhen;
      return;
    }
    if (this.#pace && next.dueMs > this.#nowMs) {
      this.#pacing = new AbortController();
      await this.#pace(this.#nowMs, next.dueMs, this.#pacing.signal);
      this.#pacing = undefined;
      if (this.#agenda.first !== next) return;
    }
    this.#agenda.remove(next);
    this.#nowMs = next.dueMs;
    next.deliver();
  }
}
