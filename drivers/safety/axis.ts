import { DriverError, type Clock } from '../interfaces/index.ts';

/** The device behind an axis, as far as it can be halted and looked at. */
export interface Haltable {
  stop(): Promise<void>;
  close(): Promise<void>;
  /** Where it is, um of its axes. */
  place(): Promise<readonly number[]>;
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
/** Two looks this far apart that agree so well show a device at rest; noise may spoil some. */
const LOOK_EVERY_MS = 50;
const REST_UM = 2;
const MOST_LOOKS = 4;
/** A device that answers so has its line, and its driver has looked at it: it moves no more, or says so. */
const ANSWERS_AT_REST: ReadonlySet<string> = new Set(['positionLost', 'alarm']);

function isSame(a: readonly number[], b: readonly number[]): boolean {
  return a.every((um, axis) => Math.abs(um - (b[axis] ?? Number.NaN)) <= REST_UM);
}

/**
 * What the gate knows about the motion of one device. A move that failed may still be going on (its reply was lost, say), and one that was
 * stopped early may still be about to begin: the axis is then in doubt until it has been halted, the move is through, and it has been seen
 * at rest. That a stop resolves is not enough: on a line that was lost there may have been nobody to send it to.
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
    await this.halt();
    await this.#seeRest();
    this.#doubtful = undefined;
  }

  /** The same, but the axis stays in doubt until it is seen at rest or a move arrives: for what must not wait for a look. */
  async halt(): Promise<void> {
    if (!this.isInDoubt) return;
    await this.#device.stop();
    await this.#untilThrough();
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
      const result = await send();
      if (this.#motion === motion) this.#doubtful = undefined;
      return result;
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
  /** Rejects with what the device says, or with `timeout` while it moves. */
  async #seeRest(): Promise<void> {
    let before: readonly number[] | undefined;
    for (let looks = 0; looks < MOST_LOOKS; looks++) {
      if (looks > 0) await this.#clock.sleep(LOOK_EVERY_MS);
      const now = await this.#look();
      if (now === 'answers' || (before && isSame(now, before))) return;
      before = now;
    }
    throw new DriverError('timeout', { device: this.name, what: 'it is not seen at rest', waitedMs: (MOST_LOOKS - 1) * LOOK_EVERY_MS });
  }

  async #look(): Promise<readonly number[] | 'answers'> {
    try {
      return await this.#device.place();
    } catch (error) {
      if (error instanceof DriverError && ANSWERS_AT_REST.has(error.code)) return 'answers';
      throw error;
    }
  }
}
