/** So many at once, and so many a second after that. */
export interface Rate {
  readonly burst: number;
  readonly perS: number;
}

/** All keys that there is no room for share this one's rate. */
const THE_REST = '';

/**
 * Meters how often each key comes. One number a key: when its last coming would have been due had it kept to the rate (generic
 * cell rate algorithm, ITU-T I.371, from memory). Keys are bounded: those that have long been quiet are forgotten, and when none
 * has, new ones share one rate. A clock that was set back locks nobody out: no wait is ever longer than the burst.
 */
export class RateMeter {
  private readonly dueMs = new Map<string, number>();
  private readonly everyMs: number;
  private readonly burstMs: number;
  private readonly mostKeys: number;

  constructor({ burst, perS }: Rate, mostKeys = 1024) {
    this.everyMs = 1000 / perS;
    this.burstMs = burst * this.everyMs;
    this.mostKeys = mostKeys;
  }

  /** Keys that are remembered now. */
  get size(): number {
    return this.dueMs.size;
  }

  /** 0 when this coming is within the rate, and counts it; else how long to wait, ms, and counts nothing. */
  take(key: string, nowMs: number): number {
    const kept = this.keyFor(key, nowMs);
    const before = Math.min(Math.max(this.dueMs.get(kept) ?? nowMs, nowMs), nowMs + this.burstMs);
    const due = before + this.everyMs;
    const waitMs = due - nowMs - this.burstMs;
    // What is left of sums of fractions is no lateness.
    const isRefused = waitMs > 1e-6;
    this.dueMs.set(kept, isRefused ? before : due);
    return isRefused ? waitMs : 0;
  }

  private keyFor(key: string, nowMs: number): string {
    if (this.dueMs.has(key) || this.dueMs.size < this.mostKeys) return key;
    for (const [old, due] of this.dueMs) if (due <= nowMs) this.dueMs.delete(old);
    return this.dueMs.size < this.mostKeys ? key : THE_REST;
  }
}
