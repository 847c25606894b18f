import { DriverError, type Clock } from '../../drivers/interfaces/index.ts';

/** Where along a path one is, with a trapezoidal course of speed. */
interface Course {
  readonly durationMs: number;
  /** Share of the path after this time, 0 to 1. */
  shareAt(ms: number): number;
}

/**
 * A path begun and ended at rest: up to speed at constant acceleration, on at top speed, down again; v = sqrt(a d) at most, where the path
 * is too short to reach the top speed. Closed forms of uniformly accelerated motion.
 */
export function courseOver(distanceUm: number, maxSpeedUmPerS: number, accelerationUmPerS2: number): Course {
  if (distanceUm <= 0) return { durationMs: 0, shareAt: () => 1 };
  const speed = Math.min(maxSpeedUmPerS, Math.sqrt(accelerationUmPerS2 * distanceUm));
  const rampS = speed / accelerationUmPerS2;
  const totalS = distanceUm / speed + rampS;
  const wayUm = (s: number) => {
    if (s < rampS) return (accelerationUmPerS2 * s * s) / 2;
    if (s < totalS - rampS) return speed * (s - rampS / 2);
    return distanceUm - (accelerationUmPerS2 * (totalS - s) ** 2) / 2;
  };
  return { durationMs: totalS * 1000, shareAt: (ms) => wayUm(Math.min(totalS, Math.max(0, ms / 1000))) / distanceUm };
}

interface Ride {
  readonly from: readonly number[];
  readonly to: readonly number[];
  readonly startMs: number;
  readonly course: Course;
  readonly halt: AbortController;
}

/** How a ride may be asked for, beside where to. */
export interface RideOptions {
  readonly maxSpeedUmPerS: number;
  readonly accelerationUmPerS2: number;
  readonly signal?: AbortSignal | undefined;
  /** It gets stuck half-way. */
  readonly stalls?: boolean;
}

/** A motor's carriage along one or two axes: where the controller believes that it is. */
export class Carriage {
  #at: readonly number[];
  #ride: Ride | undefined;
  readonly #clock: Clock;
  readonly #device: string;

  constructor(clock: Clock, device: string, at: readonly number[]) {
    this.#clock = clock;
    this.#device = device;
    this.#at = at;
  }

  get isMoving(): boolean {
    return this.#ride !== undefined;
  }

  /** Where it is now, under way too. */
  now(): readonly number[] {
    if (!this.#ride) return this.#at;
    const { from, to, startMs, course } = this.#ride;
    const share = course.shareAt(this.#clock.now() - startMs);
    return to.map((end, axis) => (from[axis] ?? end) + (end - (from[axis] ?? end)) * share);
  }

  /** Resolves on arrival. Rejects with `stopped`, `stalled`, and with `unsupported` when it is under way already. */
  async ride(to: readonly number[], { maxSpeedUmPerS, accelerationUmPerS2, signal, stalls = false }: RideOptions): Promise<void> {
    if (this.#ride) throw new DriverError('unsupported', { device: this.#device, what: 'two moves at once' });
    if (signal?.aborted) throw new DriverError('stopped', { device: this.#device });
    const from = this.#at;
    const course = courseOver(Math.hypot(...to.map((end, axis) => end - (from[axis] ?? end))), maxSpeedUmPerS, accelerationUmPerS2);
    const halt = new AbortController();
    const onAbort = () => halt.abort();
    signal?.addEventListener('abort', onAbort, { once: true });
    this.#ride = { from, to, startMs: this.#clock.now(), course, halt };
    try {
      await this.#clock.sleep(stalls ? course.durationMs / 2 : course.durationMs, halt.signal);
      this.#at = stalls ? this.now() : to;
    } catch {
      this.#at = this.now();
      throw new DriverError('stopped', { device: this.#device });
    } finally {
      this.#ride = undefined;
      signal?.removeEventListener('abort', onAbort);
    }
    if (stalls) throw new DriverError('stalled', { device: this.#device });
  }

  /** Halts at once, where it is. */
  stop(): void {
    this.#ride?.halt.abort();
  }
}

/**
 * Backlash: what is driven follows the carriage with this much play. Driven from the low side it stands at the carriage, from the high
 * side `playUm` above it, in between where it was.
 */
export function withPlay(drivenUm: number, carriageUm: number, playUm: number): number {
  return Math.min(Math.max(drivenUm, carriageUm), carriageUm + playUm);
}
