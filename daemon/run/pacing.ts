import type { Clock } from '../../drivers/interfaces/index.ts';

/** How much is left, from how fast it went so far; the plan's forecast stands in until there is something to go by. */
export class Pacing {
  private readonly clock: Clock;
  private readonly total: number;
  private readonly forecastS: number;
  private startedMs: number;
  private doneBefore = 0;
  /** Tiles ended when last told, and since when it is so many: what comes after the last tile says nothing about their pace. */
  private done = 0;
  private doneAtMs: number;

  /**
   * @param clock the time that a person waits by: real time, even when the night's own clock runs faster
   * @param total tiles of the plan
   */
  constructor(clock: Clock, total: number, forecastS: number) {
    this.clock = clock;
    this.total = total;
    this.forecastS = forecastS;
    this.startedMs = clock.now();
    this.doneAtMs = this.startedMs;
  }

  /** Begins to count, e.g. after a resume: what was done before says nothing about the pace now. */
  begin(done: number): void {
    this.doneBefore = done;
    this.done = done;
    this.startedMs = this.clock.now();
    this.doneAtMs = this.startedMs;
  }

  /**
   * Seconds left, for who waits.
   * @param done tiles ended so far
   * @param afterwardsS what comes after the tiles, as planned: it takes longer or shorter than that as the tiles do
   */
  leftS(done: number, afterwardsS: number): number {
    if (done > this.done) [this.done, this.doneAtMs] = [done, this.clock.now()];
    const since = done - this.doneBefore;
    const left = Math.max(0, this.total - done);
    const plannedS = (this.forecastS * left) / Math.max(1, this.total) + afterwardsS;
    if (since < 1 || !(this.forecastS > 0)) return plannedS;
    const perTileS = (this.doneAtMs - this.startedMs) / 1000 / since;
    return plannedS * (perTileS / (this.forecastS / this.total));
  }
}
