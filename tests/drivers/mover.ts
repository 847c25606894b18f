import { DriverError } from '../../drivers/interfaces/index.ts';
import type { VirtualClock } from '../../simulators/clock/virtualClock.ts';

/** What the next call of a raw device does wrong. */
export type RigFault = 'none' | 'lostReply' | 'stalls' | 'readFails' | 'readsNaN' | 'stopFails';

interface Motion {
  readonly from: readonly number[];
  readonly to: readonly number[];
  readonly startMs: number;
  readonly endMs: number;
}

/** One axis group that really moves in virtual time, goes on after a lost reply, and only halts when a stop gets through. */
export class Mover {
  motion: Motion;
  readonly #clock: VirtualClock;

  constructor(clock: VirtualClock, at: readonly number[]) {
    this.#clock = clock;
    this.motion = { from: at, to: at, startMs: clock.now(), endMs: clock.now() };
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
    const at = this.at();
    this.motion = { from: at, to: at, startMs: this.#clock.now(), endMs: this.#clock.now() };
  }

  async go(to: readonly number[], speedUmPerS: number, fault: RigFault): Promise<void> {
    const from = this.at();
    const ms = (Math.hypot(...to.map((end, axis) => end - (from[axis] ?? 0))) / speedUmPerS) * 1000;
    const motion = { from, to, startMs: this.#clock.now(), endMs: this.#clock.now() + ms };
    this.motion = motion;
    if (fault === 'lostReply') {
      await this.#clock.sleep(Math.min(ms, 5));
      throw new DriverError('timeout');
    }
    await this.#clock.sleep(fault === 'stalls' ? ms / 2 : ms);
    if (this.motion !== motion) throw new DriverError('stopped');
    if (fault !== 'stalls') return;
    this.halt();
    throw new DriverError('stalled');
  }
}
