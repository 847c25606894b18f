import { DriverError, type Clock, type DriverErrorCode } from '../../drivers/interfaces/index.ts';

/** Where along a path one is, with a trapezoidal course of speed. */
interface Course {
  readonly durationMs: number;
  /** Share of the path after this time, 0 to 1. */
  shareAt(ms: number): number;
}

/** How fast a carriage goes along its path. */
export interface CourseLimits {
  readonly maxSpeedUmPerS: number;
  readonly accelerationUmPerS2: number;
  /** Without it, acceleration begins and ends at once. */
  readonly jerkUmPerS3?: number | undefined;
}

/** Speeding up from rest: how long, to what speed, and how far after a time. */
interface Ramp {
  readonly seconds: number;
  readonly speed: number;
  wayUm(s: number): number;
}

/** At constant acceleration: v = a t. */
function hardRamp(speed: number, acceleration: number): Ramp {
  return { seconds: speed / acceleration, speed, wayUm: (s) => (acceleration * s * s) / 2 };
}

/** Acceleration grows at the jerk, stays, and falls again; the second half mirrors the first about the middle of time and speed. */
function softRamp(speed: number, acceleration: number, jerk: number): Ramp {
  const growS = Math.min(acceleration / jerk, Math.sqrt(speed / jerk));
  const stayS = Math.max(0, speed / (jerk * growS) - growS);
  const seconds = 2 * growS + stayS;
  const early = (s: number): number => {
    if (s <= growS) return (jerk * s ** 3) / 6;
    const since = s - growS;
    return (jerk * growS ** 3) / 6 + ((jerk * growS * growS) / 2) * since + (jerk * growS * since * since) / 2;
  };
  const wayUm = (s: number): number => (s <= growS + stayS ? early(s) : (speed * seconds) / 2 - speed * (seconds - s) + (jerk * (seconds - s) ** 3) / 6);
  return { seconds, speed, wayUm };
}

/** The speed at which speeding up and slowing down just fill the path; found by halving, since time grows with it. */
function speedThatFills(distanceUm: number, most: number, rampTo: (speed: number) => Ramp): number {
  if (most * rampTo(most).seconds <= distanceUm) return most;
  let [low, high] = [0, most];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (middle * rampTo(middle).seconds <= distanceUm) low = middle;
    else high = middle;
  }
  return low > 0 ? low : high;
}

/** A path begun and ended at rest: up to speed, on at top speed, down again as it went up. Uniformly accelerated motion, any textbook of mechanics. */
export function courseOver(distanceUm: number, { maxSpeedUmPerS, accelerationUmPerS2, jerkUmPerS3 }: CourseLimits): Course {
  if (distanceUm <= 0) return { durationMs: 0, shareAt: () => 1 };
  const rampTo = (speed: number): Ramp => (jerkUmPerS3 === undefined ? hardRamp(speed, accelerationUmPerS2) : softRamp(speed, accelerationUmPerS2, jerkUmPerS3));
  const speed = jerkUmPerS3 === undefined ? Math.min(maxSpeedUmPerS, Math.sqrt(accelerationUmPerS2 * distanceUm)) : speedThatFills(distanceUm, maxSpeedUmPerS, rampTo);
  const ramp = rampTo(speed);
  const totalS = distanceUm / speed + ramp.seconds;
  const wayUm = (s: number): number => {
    if (s < ramp.seconds) return ramp.wayUm(s);
    if (s < totalS - ramp.seconds) return ramp.wayUm(ramp.seconds) + speed * (s - ramp.seconds);
    return distanceUm - ramp.wayUm(totalS - s);
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
export interface RideOptions extends CourseLimits {
  readonly signal?: AbortSignal | undefined;
  /** It ends half-way, with this code. */
  readonly fails?: DriverErrorCode | undefined;
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

  /** Resolves on arrival. Rejects with `stopped`, with the code by which it was to fail, and with `unsupported` when it is under way already. */
  async ride(to: readonly number[], { signal, fails, ...limits }: RideOptions): Promise<void> {
    if (this.#ride) throw new DriverError('unsupported', { device: this.#device, what: 'two moves at once' });
    if (signal?.aborted) throw new DriverError('stopped', { device: this.#device });
    const from = this.#at;
    const course = courseOver(Math.hypot(...to.map((end, axis) => end - (from[axis] ?? end))), limits);
    const halt = new AbortController();
    const onAbort = () => halt.abort();
    signal?.addEventListener('abort', onAbort, { once: true });
    this.#ride = { from, to, startMs: this.#clock.now(), course, halt };
    try {
      await this.#clock.sleep(fails ? course.durationMs / 2 : course.durationMs, halt.signal);
      this.#at = fails ? this.now() : to;
    } catch {
      this.#at = this.now();
      throw new DriverError('stopped', { device: this.#device });
    } finally {
      this.#ride = undefined;
      signal?.removeEventListener('abort', onAbort);
    }
    if (fails) throw new DriverError(fails, { device: this.#device });
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
