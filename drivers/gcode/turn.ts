import { DriverError, type Clock } from '../interfaces/index.ts';

/** Who may wait for the controller at once. */
const MOST_WAITING = 4;

/** One controller does one motion at a time: whoever comes later waits for a bounded time, and in order. */
export class Turn {
  #isTaken = false;
  #waiting: (() => void)[] = [];
  readonly #clock: Clock;

  constructor(clock: Clock) {
    this.#clock = clock;
  }

  get isTaken(): boolean {
    return this.#isTaken;
  }

  /**
   * Resolves with what gives the turn back. Rejects with `stopped` when the signal comes first, with `timeout` when the other motion goes on for longer
   * than `withinMs`, with `unsupported` when too many wait already.
   */
  async take(withinMs: number, signal: AbortSignal): Promise<() => void> {
    if (!this.#isTaken) {
      this.#isTaken = true;
      return () => this.#pass();
    }
    if (this.#waiting.length >= MOST_WAITING) throw new DriverError('unsupported', { what: 'too many motions at once' });
    return this.#wait(withinMs, signal);
  }

  async #wait(withinMs: number, signal: AbortSignal): Promise<() => void> {
    const ended = new AbortController();
    const end = () => ended.abort();
    signal.addEventListener('abort', end, { once: true });
    let isMine = false;
    const called = () => {
      isMine = true;
      end();
    };
    this.#waiting.push(called);
    await this.#clock.sleep(withinMs, ended.signal).catch(() => undefined);
    signal.removeEventListener('abort', end);
    if (isMine) return () => this.#pass();
    this.#waiting = this.#waiting.filter((other) => other !== called);
    throw signal.aborted ? new DriverError('stopped') : new DriverError('timeout', { what: 'another axis of the controller moves', waitedMs: withinMs });
  }

  #pass(): void {
    const next = this.#waiting.shift();
    if (next) next();
    else this.#isTaken = false;
  }
}
