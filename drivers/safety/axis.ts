import { DriverError } from '../interfaces/index.ts';

/** What can be halted, of the device behind an axis. */
export interface Haltable {
  stop(): Promise<void>;
}

/** One checked move, ready to be sent. */
export interface AxisMove<T> {
  /** True when it begins or ends below the safe height. */
  readonly isLow: boolean;
  /** The axis's count of stops when the move was asked for. */
  readonly stopsBefore: number;
  readonly signal: AbortSignal | undefined;
  send(): Promise<T>;
}

/**
 * What the gate knows about the motion of one device. A move that failed may still be going on (its reply was lost, say): the axis
 * is then in doubt until it has been halted.
 */
export class Axis {
  readonly name: string;
  readonly #device: Haltable;
  #motion: { readonly isLow: boolean } | undefined;
  #isInDoubt = false;
  #stops = 0;

  constructor(name: string, device: Haltable) {
    this.name = name;
    this.#device = device;
  }

  get isMoving(): boolean {
    return this.#motion !== undefined;
  }

  /** True while it moves in a way that begins or ends below the safe height. */
  get isMovingLow(): boolean {
    return this.#motion?.isLow ?? false;
  }

  /** Counts the stops asked for, so that a move still being checked can see that one has come in between. */
  get stops(): number {
    return this.#stops;
  }

  /**
   * Carries a move out and keeps account of it. Rejects with `stopped`, with nothing sent, when a stop has come since `stopsBefore`
   * was taken or the signal was aborted.
   */
  async carryOut<T>(move: AxisMove<T>): Promise<T> {
    if (this.#stops !== move.stopsBefore || move.signal?.aborted) throw new DriverError('stopped', { device: this.name });
    const motion = { isLow: move.isLow };
    this.#motion = motion;
    try {
      return await move.send();
    } catch (error) {
      // A stop that came meanwhile has already ended this motion, or has put the axis in doubt itself.
      if (this.#motion === motion) this.#isInDoubt = true;
      throw error;
    } finally {
      if (this.#motion === motion) this.#motion = undefined;
    }
  }

  /** Always reaches the device. Afterwards no earlier move counts as going on; when the stop failed, the axis is in doubt. */
  async stop(): Promise<void> {
    this.#stops++;
    const motion = this.#motion;
    try {
      await this.#device.stop();
    } catch (error) {
      this.#isInDoubt = true;
      throw error;
    } finally {
      if (this.#motion === motion) this.#motion = undefined;
    }
  }

  /** Resolves when no failed move can be going on any more; rejects when that cannot be made sure of. */
  async settle(): Promise<void> {
    if (!this.#isInDoubt) return;
    await this.#device.stop();
    this.#isInDoubt = false;
  }
}
