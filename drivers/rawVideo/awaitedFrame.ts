import { DriverError } from '../interfaces/index.ts';

export interface FrameWish {
  readonly askedAtMs: number;
  readonly exposureMs: number;
  /** Frames that are let go by after the call. */
  readonly discardFrames: number;
}

/** One caller who waits for a frame. */
export class AwaitedFrame {
  readonly frame: Promise<Uint8Array>;
  readonly #wish: FrameWish;
  #resolve: (frame: Uint8Array) => void = () => undefined;
  #reject: (error: DriverError) => void = () => undefined;
  #seen = 0;

  constructor(wish: FrameWish) {
    this.#wish = wish;
    this.frame = new Promise((resolve, reject) => {
      this.#resolve = resolve;
      this.#reject = reject;
    });
    // Who has stopped waiting hears of no error.
    this.frame.catch(() => undefined);
  }

  /**
   * Offers a whole frame. It is taken after the frames to be let go by, and not before an exposure would fit between the call and now:
   * a burst of frames that were held up somewhere is old, however many they are.
   */
  offer(frame: Uint8Array, nowMs: number): boolean {
    const { askedAtMs, exposureMs, discardFrames } = this.#wish;
    this.#seen++;
    if (this.#seen <= discardFrames || nowMs - exposureMs < askedAtMs) return false;
    this.#resolve(frame);
    return true;
  }

  fail(error: DriverError): void {
    this.#reject(error);
  }
}
