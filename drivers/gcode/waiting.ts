import type { Clock } from '../interfaces/index.ts';

/** Something asked and not yet answered: ends with an answer, an error, or with what stands for none when its time is over. */
export class Waiting<T> {
  readonly answered: Promise<T>;
  #end: (how: () => void) => void = () => undefined;
  #resolve: (value: T) => void = () => undefined;
  #reject: (error: Error) => void = () => undefined;
  #limit = new AbortController();
  #isOver = false;
  readonly #clock: Clock;

  constructor(clock: Clock, withinMs: number, late: T) {
    this.#clock = clock;
    this.answered = new Promise<T>((resolve, reject) => {
      this.#resolve = resolve;
      this.#reject = reject;
    });
    this.#end = (how) => {
      if (this.#isOver) return;
      this.#isOver = true;
      this.#limit.abort();
      how();
    };
    // Whoever asked may have stopped waiting.
    this.answered.catch(() => undefined);
    this.resolveLater(withinMs, late);
  }

  resolve(value: T): void {
    this.#end(() => this.#resolve(value));
  }

  reject(error: Error): void {
    this.#end(() => this.#reject(error));
  }

  /** Ends with this when nothing else comes in time; takes the place of the time limit before. */
  resolveLater(withinMs: number, late: T): void {
    if (this.#isOver) return;
    this.#limit.abort();
    this.#limit = new AbortController();
    this.#clock.sleep(withinMs, this.#limit.signal).then(
      () => this.resolve(late),
      () => undefined,
    );
  }
}
