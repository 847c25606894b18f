import { DriverError } from '../../drivers/interfaces/index.ts';
import type { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import type { RigFault, RigLine } from './rigLine.ts';

export interface Motion {
  readonly from: readonly number[];
  readonly to: readonly number[];
  readonly startMs: number;
  readonly endMs: number;
  readonly over: AbortController;
}

export interface Errand {
  readonly to: readonly number[];
  readonly speedUmPerS: number;
  readonly fault: RigFault;
  readonly signal?: AbortSignal | undefined;
  /** Told when the motion truly begins. */
  readonly begins: () => void;
}

const REPLY_LOST_AFTER_MS = 5;
const LATE_START_MS = 40;
const LATE_REPLY_MS = 700;

/** One axis group that really moves in virtual time, goes on after a lost reply, and only halts when a stop gets through. */
export class Mover {
  motion: Motion;
  readonly #clock: VirtualClock;
  readonly #line: RigLine;

  constructor(clock: VirtualClock, line: RigLine, at: readonly number[]) {
    this.#clock = clock;
    this.#line = line;
    this.motion = { from: at, to: at, startMs: clock.now(), endMs: clock.now(), over: new AbortController() };
  }

  get isMoving(): boolean {
    return this.#clock.now() < this.motion.endMs;
  }

  at(): readonly number[] {
    const { from, to, startMs, endMs } = this.motion;
    const share = this.isMoving ? (this.#clock.now() - startMs) / (endMs - startMs) : 1;
    return to.map((end, axis) => (from[axis] ?? 0) + (end - (from[axis] ?? 0)) * share);
  }

  halt(): void {
    const { over } = this.motion;
    this.#set(this.at(), 0);
    over.abort();
  }

  /** Resolves on arrival, or some time after. Rejects with `deviceError`, `timeout`, `stopped`, `stalled`, `disconnected`. */
  async go({ to, speedUmPerS, fault, signal, begins }: Errand): Promise<void> {
    if (fault === 'refused') throw new DriverError('deviceError');
    // A driver that is still busy when it is told to stop, and sends what it was told before.
    if (fault === 'lateStart') await this.#line.whilePlugged(this.#clock.sleep(LATE_START_MS));
    begins();
    const from = this.at();
    const ms = (Math.hypot(...to.map((end, axis) => end - (from[axis] ?? 0))) / speedUmPerS) * 1000;
    this.#set(to, ms);
    const { over } = this.motion;
    if (fault === 'lostReply') {
      await this.#clock.sleep(Math.min(ms, REPLY_LOST_AFTER_MS));
      throw new DriverError('timeout');
    }
    const onAbort = () => void this.#line.stop(this).catch(() => undefined);
    signal?.addEventListener('abort', onAbort, { once: true });
    try {
      await this.#line.whilePlugged(this.#arrival(fault === 'stalls' ? ms / 2 : ms, over.signal, fault));
    } finally {
      signal?.removeEventListener('abort', onAbort);
    }
  }

  async #arrival(ms: number, over: AbortSignal, fault: RigFault): Promise<void> {
    const isStopped = await this.#clock.sleep(ms, over).then(() => false, () => true);
    if (fault === 'stalls' && !isStopped) this.halt();
    if (fault === 'lateReply') await this.#clock.sleep(LATE_REPLY_MS);
    if (isStopped) throw new DriverError('stopped');
    if (fault === 'stalls') throw new DriverError('stalled');
  }

  #set(to: readonly number[], ms: number): void {
    const startMs = this.#clock.now();
    this.motion = { from: this.at(), to, startMs, endMs: startMs + ms, over: new AbortController() };
  }
}
