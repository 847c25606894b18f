import type { Clock } from '../../drivers/interfaces/index.ts';
import { lengthOfTime } from './sentences.ts';

/** A clock that a time server keeps drifts by a second or two in a night; more than this was set, or the computer slept. */
const SET_BY_MS = 30_000;

/** Notices that the computer's clock was set, or that the computer slept: the times of a night then go on by the old one. */
export class ClockWatch {
  private readonly clock: Clock;
  private aheadMs: number;

  constructor(clock: Clock) {
    this.clock = clock;
    this.aheadMs = this.ahead();
  }

  /** A sentence when the clock was set since the last look; else undefined. */
  look(): string | undefined {
    const aheadMs = this.ahead();
    const byMs = aheadMs - this.aheadMs;
    if (Math.abs(byMs) < SET_BY_MS) return undefined;
    this.aheadMs = aheadMs;
    const way = byMs > 0 ? 'forwards' : 'backwards';
    return `The computer's clock went ${way} by ${lengthOfTime(Math.abs(byMs) / 1000)}: it was set, or the computer slept. The night goes on, and its times by the clock that it began with.`;
  }

  private ahead(): number {
    const { clock } = this;
    return (clock.timeOfDay?.() ?? clock.now()) - clock.now();
  }
}
