import { DriverError } from '../../drivers/interfaces/index.ts';
import type { VirtualClock } from '../../simulators/clock/virtualClock.ts';

/** What the next call of a raw device does wrong, where it can. */
export type RigFault =
  | 'none'
  | 'refused'
  | 'lostReply'
  | 'lateReply'
  | 'lateStart'
  | 'stalls'
  | 'readFails'
  | 'readsNaN'
  | 'garbled'
  | 'stopFails'
  | 'stopLies'
  | 'slowStop'
  | 'unplugged';

export interface Haltable {
  halt(): void;
}

const UNPLUGGED_MS = 3000;
const SLOW_STOP_MS = 60;
/** A digit too few, a digit changed, a sign lost. */
const noises: readonly ((value: number) => number)[] = [(value) => value / 10, (value) => value + 4000, (value) => -value];

/** The line of one device: it fails as it is told, and what moves behind it goes on. */
export class RigLine {
  readonly #clock: VirtualClock;
  readonly #nextFault: () => RigFault;
  readonly #cuts = new Set<() => void>();
  #outUntilMs = Number.NEGATIVE_INFINITY;
  #isClosed = false;
  #garbled = 0;
  #wasGarbled = false;

  constructor(clock: VirtualClock, nextFault: () => RigFault) {
    this.#clock = clock;
    this.#nextFault = nextFault;
  }

  /** The fault of a call; throws when the line is out. */
  call(): RigFault {
    const fault = this.#nextFault();
    if (fault === 'unplugged') this.#unplug();
    if (this.#isClosed) throw new DriverError('closed');
    if (this.#clock.now() < this.#outUntilMs) throw new DriverError('disconnected');
    return fault;
  }

  /** A reading as it arrives. Noise does not strike twice in a row. */
  read(values: readonly number[]): readonly number[] {
    const fault = this.call();
    if (fault === 'readFails') throw new DriverError('badReply');
    if (fault === 'readsNaN') return values.map(() => Number.NaN);
    this.#wasGarbled = fault === 'garbled' && !this.#wasGarbled;
    const noise = noises[this.#garbled % noises.length];
    if (!this.#wasGarbled || !noise) return values;
    this.#garbled++;
    return values.map(noise);
  }

  async stop(...movers: readonly Haltable[]): Promise<void> {
    const fault = this.call();
    if (fault === 'stopFails') throw new DriverError('disconnected');
    if (fault === 'stopLies') return;
    if (fault === 'slowStop') await this.#clock.sleep(SLOW_STOP_MS);
    for (const mover of movers) mover.halt();
  }

  /** Closes the line and leaves the motion to itself. */
  async close(): Promise<void> {
    this.#isClosed = true;
    this.#cut();
  }

  /** Rejects with `disconnected` as soon as the line goes. */
  async whilePlugged<T>(work: Promise<T>): Promise<T> {
    let onCut: () => void = () => undefined;
    const cut = new Promise<never>((_, reject) => {
      onCut = () => reject(new DriverError('disconnected'));
    });
    this.#cuts.add(onCut);
    try {
      return await Promise.race([work, cut]);
    } finally {
      this.#cuts.delete(onCut);
      work.catch(() => undefined);
    }
  }

  #unplug(): void {
    this.#outUntilMs = this.#clock.now() + UNPLUGGED_MS;
    this.#cut();
  }

  #cut(): void {
    for (const cut of this.#cuts) cut();
  }
}
