/** Smallest page of memory of the computers that Node runs on. */
const PAGE_BYTES = 4096;

/**
 * Shared memory for the next frame. A system hands out memory page by page, each when it is first written to: for a large picture that
 * takes longer than the copy itself. So it is made ready while the camera exposes, and is there when the frame comes.
 */
export class FrameMemory {
  #ready: SharedArrayBuffer | undefined;

  /** Makes `bytes` ready, unless they are already. */
  prepare(bytes: number): void {
    if (this.#ready?.byteLength === bytes) return;
    this.#ready = new SharedArrayBuffer(bytes);
    const touched = new Uint8Array(this.#ready);
    for (let at = 0; at < bytes; at += PAGE_BYTES) touched[at] = 0;
  }

  /** Gives it away for good. */
  take(bytes: number): SharedArrayBuffer {
    const ready = this.#ready;
    this.#ready = undefined;
    return ready?.byteLength === bytes ? ready : new SharedArrayBuffer(bytes);
  }
}
