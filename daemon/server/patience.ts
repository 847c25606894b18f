import type { Clock } from '../../drivers/interfaces/index.ts';
import { meteredAs } from './addresses.ts';
import { RateMeter } from './rates.ts';
import type { Rate } from './rates.ts';

/** A page that opens a whole night asks for thousands of pictures, four at a time. */
const OF_WHO_IS_IN: Rate = { burst: 2000, perS: 400 };
/** The door page is a handful of files. */
const OF_STRANGERS: Rate = { burst: 60, perS: 5 };
/** Requests of one address that are held back at a time; a browser opens six connections. */
const MOST_HELD = 32;
const LONGEST_HOLD_MS = 2000;

/** Slows down an address that asks too much, and turns away one that does not let itself be slowed down. */
export class Patience {
  private readonly inside = new RateMeter(OF_WHO_IS_IN);
  private readonly outside = new RateMeter(OF_STRANGERS);
  private readonly held = new Map<string, number>();
  private readonly clock: Clock;

  constructor(clock: Clock) {
    this.clock = clock;
  }

  /** Resolves with 0 when the request's turn has come, else at once with the seconds after which to try again. */
  async wait(address: string | undefined, isIn: boolean): Promise<number> {
    const key = meteredAs(address);
    const meter = isIn ? this.inside : this.outside;
    for (let waitMs = meter.take(key, this.clock.now()); waitMs > 0; waitMs = meter.take(key, this.clock.now())) {
      const held = this.held.get(key) ?? 0;
      if (!isIn || held >= MOST_HELD || waitMs > LONGEST_HOLD_MS) return Math.ceil(waitMs / 1000);
      this.held.set(key, held + 1);
      await this.clock.sleep(Math.ceil(waitMs));
      this.release(key);
    }
    return 0;
  }

  private release(key: string): void {
    const held = (this.held.get(key) ?? 1) - 1;
    if (held > 0) this.held.set(key, held);
    else this.held.delete(key);
  }
}
