import type { Clock } from '../../drivers/interfaces/index.ts';

/**
 * A run that shows no sign of life for this long is given up: longer than any single call of a device may take, and than a device that has
 * gone is waited for.
 */
export const NO_PROGRESS_MS = 15 * 60_000;
/** So many looks make up that time: none of them may have seen a sign. */
const LOOKS = 15;

/**
 * Watches over whatever a run has under way. It counts signs of life and looks at the count again and again; the time of day does not come
 * into it, so that a clock that is set cannot wake it.
 */
export class Watchdog {
  private signs = 0;
  private readonly clock: Clock;

  constructor(clock: Clock) {
    this.clock = clock;
  }

  /** Something went on: a point focused, a tile recorded, a device looked for. */
  alive(): void {
    this.signs++;
  }

  /** Resolves once there has been no sign for the whole time. Rejects with the signal's reason: what was watched has ended. */
  async untilStuck(signal: AbortSignal): Promise<void> {
    let seen = this.signs;
    for (let looks = 0; looks < LOOKS; looks++) {
      await this.clock.sleep(NO_PROGRESS_MS / LOOKS, signal);
      if (this.signs !== seen) looks = -1;
      seen = this.signs;
    }
  }
}
