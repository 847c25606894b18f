import type { Clock } from '../../../drivers/interfaces/index.ts';

/** A motor that goes to a place at even speed. Places are its own steps. */
export class Motor {
  /** Steps per second. */
  speed: number;
  #from: number;
  #to: number;
  #startMs = 0;
  #endMs = 0;
  #isStuck = false;
  readonly #clock: Clock;

  constructor(clock: Clock, at: number, speed: number) {
    this.#clock = clock;
    this.#from = at;
    this.#to = at;
    this.speed = speed;
  }

  get isMoving(): boolean {
    return this.#clock.now() < this.#endMs;
  }

  get at(): number {
    if (!this.isMoving) return this.#to;
    const share = (this.#clock.now() - this.#startMs) / (this.#endMs - this.#startMs);
    return Math.round(this.#from + share * (this.#to - this.#from));
  }

  /** The next way ends half-way. */
  stick(): void {
    this.#isStuck = true;
  }

  /** Sets out, at another speed where one is given. */
  goTo(place: number, speed = this.speed): void {
    this.#from = this.at;
    this.#to = this.#isStuck ? Math.round((this.#from + place) / 2) : place;
    this.#isStuck = false;
    this.#startMs = this.#clock.now();
    this.#endMs = this.#startMs + (1000 * Math.abs(this.#to - this.#from)) / speed;
  }

  halt(): void {
    this.put(this.at);
  }

  /** It is there, without a way. */
  put(place: number): void {
    this.#from = place;
    this.#to = place;
    this.#endMs = this.#clock.now();
  }
}
