import type { Clock } from '../../drivers/interfaces/index.ts';

/** How much is left, from how fast it went so far; the plan's forecast stands in until there is something to go by. */
export class Pacing {
  private readonly clock: Clock;
  private readonly total: number;
  private readonly forecastS: number;
  private startedMs: number;
  private doneBefore = 0;

  /**
   * @param clock the time that a person waits by: real time, even when the night's own clock runs faster
   * @param total tiles of the plan
   */
  constructor(clock: Clock, total: number, forecastS: number) {
    this.clock = clock;
    this.total = total;
    this.forecastS = forecastS;
    this.startedMs = clock.now();
  }

  /** Begins to count, e.g. after a resume: what was done before says nothing about the pace now. */
  begin(done: number): void {
    this.doneBefore = done;
    this.startedMs = this.clock.now();
  }

  leftS(done: number): number {
    const since = done - this.doneBefore;
    const left = this.total - done;
    if (left <= 0) return 0;
    if (since < 1) return (this.forecastS * left) / Math.max(1, this.total);
    return (((this.clock.now() - this.startedMs) / 1000) * left) / since;
  }
}
