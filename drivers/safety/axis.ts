import { DriverError, type Clock } from '../interfaces/index.ts';

/** What can be halted, of the device behind an axis. */
export interface Haltable {
  stop(): Promise<void>;
  close(): Promise<void>;
}

/** What a motion does that others must know of. */
export interface MotionKind {
  /** It begins or ends below the safe height. */
  readonly isLow: boolean;
  /** It moves the objective too, as the homing of one controller for all axes does. */
  readonly lifts?: boolean;
}

/** One checked move, ready to be sent. */
export interface AxisMove<T> extends MotionKind {
  /** False once a stop has come since the move was asked for, or the caller has given it up. */
  readonly isWanted: () => boolean;
  readonly send: () => Promise<T>;
}

/** A move that was stopped says so at once; one that says nothing for this long after may not even have been sent yet. */
const ENDS_WITHIN_MS = 5000;

/**
 * What the gate knows about the motion of one device. A move that failed may still be going on (its reply was lost, say), and one that was
 * stopped early may still be about to begin: the axis is then in doubt until it has been halted, and the move is through.
 */
export class Axis {
  readonly name: string;
  readonly #device: Haltable;
  readonly #clock: Clock;
  #motion: MotionKind | undefined;
  /** Failed, or not known to be halted. */
  #doubtful: MotionKind | undefined;
  /** Halted, but its promise is not through. */
  #unended: MotionKind | undefined;
  /** Of the move sent last; resolves however it ends. */
  #ended: Promise<unknown> = Promise.resolve();
  #stops = 0;

  constructor(name: string, device: Haltable, clock: Clock) {
    this.name = name;
    this.#device = device;
    this.#clock = clock;
  }

  get isMoving(): boolean {
    return this.#motion !== undefined;
  }

  /** True while it moves in a way that begins or ends below the safe height. */
  get isMovingLow(): boolean {
    return this.#motion?.isLow ?? false;
  }

  get isInDoubt(): boolean {
    return this.#doubtful !== undefined || this.#unended !== undefined;
  }

  /** True while a motion that moves the objective as well goes on. */
  get isLifting(): boolean {
    return this.#motion?.lifts ?? false;
  }

  /** True while such a motion may be going on without our knowing. */
  get mayLift(): boolean {
    return (this.#doubtful?.lifts ?? false) || (this.#unended?.lifts ?? false);
  }

  /** For a move asked for now: whether it is still wanted later, when it has been checked. */
  asked(signal?: AbortSignal): () => boolean {
    const stops = this.#stops;
    return () => this.#stops === stops && !signal?.aborted;
  }

  /** Carries a move out and keeps account of it. Rejects with `stopped`, with nothing sent, when it is not wanted any more. */
  async carryOut<T>({ isLow, lifts = false, isWanted, send }: AxisMove<T>): Promise<T> {
    if (!isWanted()) throw new DriverError('stopped', { device: this.name });
    const work = this.#follow({ isLow, lifts }, send);
    this.#ended = work.catch(() => undefined);
    return work;
  }

  /** Always reaches the device. Afterwards no earlier move counts as going on; when the stop failed, the axis is in doubt. */
  async stop(): Promise<void> {
    this.#stops++;
    const motion = this.#motion;
    if (motion) this.#unended = motion;
    try {
      await this.#device.stop();
    } catch (error) {
      this.#doubtful = motion ?? this.#doubtful ?? { isLow: true };
      throw error;
    } finally {
      if (this.#motion === motion) this.#motion = undefined;
    }
  }

  /** Resolves when no failed or stopped move can be going on any more; rejects when that cannot be made sure of. */
  async settle(): Promise<void> {
    if (!this.isInDoubt) return;
    await this.#device.stop();
    await this.#untilThrough();
    this.#doubtful = undefined;
  }

  /** What moves, or may be moving, is halted first, as well as that can be done. What was still being checked ends with `stopped`. */
  async close(): Promise<void> {
    this.#stops++;
    if (this.isMoving || this.isInDoubt) await this.stop().catch(() => undefined);
    await this.#device.close();
  }

  async #follow<T>(motion: MotionKind, send: () => Promise<T>): Promise<T> {
    this.#motion = motion;
    try {
      return await send();
    } catch (error) {
      // A stop that came meanwhile has ended this motion only where it says so itself.
      const isStopped = error instanceof DriverError && error.code === 'stopped';
      if (this.#motion === motion || (this.#unended === motion && !isStopped)) this.#doubtful = motion;
      throw error;
    } finally {
      if (this.#motion === motion) this.#motion = undefined;
      if (this.#unended === motion) this.#unended = undefined;
    }
  }

  /** Rejects with `timeout`. */
  async #untilThrough(): Promise<void> {
    if (!this.#unended) return;
    const done = new AbortController();
    await Promise.race([this.#ended, this.#clock.sleep(ENDS_WITHIN_MS, done.signal).catch(() => undefined)]);
    done.abort();
    if (this.#unended) throw new DriverError('timeout', { device: this.name, what: 'a move that was stopped has not ended', waitedMs: ENDS_WITHIN_MS });
    // It may have been sent only after the stop.
    await this.#device.stop();
  }
}
