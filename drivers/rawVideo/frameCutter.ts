/**
 * Cuts a stream of bytes into frames by their exact length: nothing in raw video marks where one ends. Holds the frame that is coming in
 * and no other, so that a receiver who is slow finds new frames and never a queue of old ones.
 */
export class FrameCutter {
  readonly #frameBytes: number;
  readonly #whole: (frame: Uint8Array) => boolean;
  #frame: Uint8Array;
  #filled = 0;

  /** @param whole told each whole frame; says true when it keeps the bytes, which are otherwise written over */
  constructor(frameBytes: number, whole: (frame: Uint8Array) => boolean) {
    this.#frameBytes = frameBytes;
    this.#whole = whole;
    this.#frame = new Uint8Array(frameBytes);
  }

  /** Bytes of the frame that has not come in whole. */
  get begunBytes(): number {
    return this.#filled;
  }

  /** Takes bytes as they arrive, cut anywhere. */
  push(bytes: Uint8Array): void {
    let from = 0;
    while (from < bytes.length) {
      const part = bytes.subarray(from, from + this.#frameBytes - this.#filled);
      this.#frame.set(part, this.#filled);
      this.#filled += part.length;
      from += part.length;
      if (this.#filled === this.#frameBytes) this.#end();
    }
  }

  #end(): void {
    this.#filled = 0;
    if (this.#whole(this.#frame)) this.#frame = new Uint8Array(this.#frameBytes);
  }
}
