import type { Clock } from '../../drivers/interfaces/index.ts';
import type { Channel, Tidings } from './types.ts';

/** Messages that may wait for one channel. A night has a handful; more means that nothing gets through. */
export const bound = 16;

/** Waits before the second, third and fourth attempt, ms: a server that starts again is back in a minute or two (common practice, no source). */
export const backoffMs: readonly number[] = [5_000, 30_000, 120_000];

/** What became of a message that did not get through. */
export interface Untold {
  readonly channel: string;
  readonly kind: Tidings['kind'];
  readonly attempts: number;
  readonly reason: string;
}

/**
 * The messages that wait for one channel, sent one at a time in their order, each tried four times at most. When it is full, the oldest
 * fault makes room for anything else; where none waits, the new message is not taken. Whatever does not get through is handed to `untold`.
 * Nobody ever waits for it but its own close.
 */
export class Outbox {
  private readonly channel: Channel;
  private readonly clock: Clock;
  private readonly untold: (untold: Untold) => void;
  private readonly waiting: Tidings[] = [];
  private readonly end = new AbortController();
  private working: Promise<void> | undefined;

  constructor(channel: Channel, clock: Clock, untold: (untold: Untold) => void) {
    this.channel = channel;
    this.clock = clock;
    this.untold = untold;
  }

  put(tidings: Tidings): void {
    if (!this.channel.about.has(tidings.kind)) return;
    if (this.waiting.length >= bound && !this.makeRoomFor(tidings)) return this.lose(tidings, 0, `${bound} messages wait already`);
    this.waiting.push(tidings);
    this.working ??= this.work().finally(() => (this.working = undefined));
  }

  /** Resolves when all is sent or given up. */
  async settled(): Promise<void> {
    await this.working;
  }

  /** Gives up what still waits; resolves when nothing is under way any more. */
  async giveUp(): Promise<void> {
    this.end.abort();
    await this.working;
  }

  private makeRoomFor(tidings: Tidings): boolean {
    const oldest = tidings.kind === 'fault' ? -1 : this.waiting.findIndex(({ kind }) => kind === 'fault');
    const [given] = oldest < 0 ? [] : this.waiting.splice(oldest, 1);
    if (given) this.lose(given, 0, 'it made room for a later message');
    return given !== undefined;
  }

  private async work(): Promise<void> {
    for (let next = this.waiting.shift(); next; next = this.waiting.shift()) await this.deliver(next);
  }

  private async deliver(tidings: Tidings): Promise<void> {
    const { signal } = this.end;
    for (let attempt = 1; ; attempt++) {
      if (signal.aborted) return this.lose(tidings, attempt - 1, 'Nightjar was ended before it could be sent');
      const result = await this.channel.send(tidings, signal);
      if (result.ok) return;
      const waitMs = backoffMs[attempt - 1];
      if (!result.again || waitMs === undefined || signal.aborted) return this.lose(tidings, attempt, result.reason);
      await this.clock.sleep(waitMs, signal).catch(() => undefined);
    }
  }

  private lose({ kind }: Tidings, attempts: number, reason: string): void {
    this.untold({ channel: this.channel.name, kind, attempts, reason });
  }
}
