import type { Clock } from '../../../drivers/interfaces/index.ts';

/** Start bit, eight data bits, stop bit. */
const BITS_A_BYTE = 10;
/** Bytes on their way at most; the rest is lost, as in a buffer that overflows. */
const MOST_WAITING = 4096;

interface Parcel {
  readonly dueMs: number;
  readonly bytes: Uint8Array;
}

/**
 * One direction of a serial line at its true speed. Bytes that are handed in together come out together, at the moment at which the last of
 * them has passed. Times are kept finer than the clock's ms, so that roundings do not add up.
 */
export class SerialLane {
  #freeAtMs = 0;
  #waiting: Parcel[] = [];
  #waitingBytes = 0;
  #isRunning = false;
  readonly #clock: Clock;
  readonly #byteMs: number;
  readonly #deliver: (bytes: Uint8Array, atMs: number) => void;

  constructor(clock: Clock, baudRate: number, deliver: (bytes: Uint8Array, atMs: number) => void) {
    this.#clock = clock;
    this.#byteMs = (BITS_A_BYTE * 1000) / baudRate;
    this.#deliver = deliver;
  }

  /** Hands bytes in at a moment that may lie a little before or after the clock's. */
  send(bytes: Uint8Array, atMs: number): void {
    if (this.#waitingBytes + bytes.length > MOST_WAITING) return;
    this.#freeAtMs = Math.max(this.#freeAtMs, atMs) + bytes.length * this.#byteMs;
    this.#waiting.push({ dueMs: this.#freeAtMs, bytes });
    this.#waitingBytes += bytes.length;
    if (!this.#isRunning) void this.#run();
  }

  /** Loses everything that is on its way. */
  clear(): void {
    this.#waiting = [];
    this.#waitingBytes = 0;
    this.#freeAtMs = 0;
  }

  async #run(): Promise<void> {
    this.#isRunning = true;
    for (let next = this.#waiting[0]; next; next = this.#waiting[0]) {
      const restMs = next.dueMs - this.#clock.now();
      if (restMs > 0) await this.#clock.sleep(restMs);
      if (this.#waiting[0] !== next) continue;
      this.#waiting.shift();
      this.#waitingBytes -= next.bytes.length;
      this.#deliver(next.bytes, next.dueMs);
    }
    this.#isRunning = false;
  }
}
