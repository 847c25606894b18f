import { DriverError } from '../interfaces/index.ts';

/** More than this never wait: the callers are a run and a page, and each has few questions at a time. */
const MOST_WAITING = 64;

/** One speaks at a time. Who is urgent goes to the front; who comes when too many wait is refused with `unsupported`. */
export class Turns {
  #isTaken = false;
  readonly #urgent: (() => void)[] = [];
  readonly #waiting: (() => void)[] = [];

  async take<T>(work: () => Promise<T>, isUrgent = false): Promise<T> {
    if (this.#isTaken) await this.#queue(isUrgent);
    this.#isTaken = true;
    try {
      return await work();
    } finally {
      this.#next();
    }
  }

  #queue(isUrgent: boolean): Promise<void> {
    const queue = isUrgent ? this.#urgent : this.#waiting;
    if (queue.length >= MOST_WAITING) throw new DriverError('unsupported', { what: 'more commands at once than can wait', waiting: queue.length });
    return new Promise((resolve) => {
      queue.push(resolve);
    });
  }

  /** The turn is handed on without being free in between, so that nobody slips in. */
  #next(): void {
    const next = this.#urgent.shift() ?? this.#waiting.shift();
    if (next) next();
    else this.#isTaken = false;
  }
}
