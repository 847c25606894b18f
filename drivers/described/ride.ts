import { DriverError } from '../interfaces/index.ts';

/** One motion under way, from the call to its end. */
export class Ride {
  /** The stop that ends it, once there is one. */
  stopping: Promise<void> | undefined;
  /** A command that sets it in motion may have reached the device. */
  hasBegun = false;
  readonly #device: string;

  constructor(device: string) {
    this.#device = device;
  }

  /** Throws `stopped` once a stop was asked for. */
  check(): void {
    if (this.stopping) throw this.stopped();
  }

  stopped(): DriverError {
    return new DriverError('stopped', { device: this.#device });
  }

  /** What the caller is told: that it was stopped, or, when the stop itself failed, how that failed; else why the motion failed. */
  async reason(error: unknown): Promise<unknown> {
    if (!this.stopping) return error;
    return this.stopping.then(
      () => this.stopped(),
      (failure: unknown) => failure,
    );
  }
}
