import { cpSync } from 'node:fs';
import pino from 'pino';
import { openRecords } from '../../daemon/records/index.ts';
import type { EventRecord, RecordsStore } from '../../daemon/records/types.ts';
import { Observatory } from '../../daemon/run/observatory.ts';
import { beginNight, nightToResume, type OpenedNight } from '../../daemon/run/openNight.ts';
import { atRest } from '../support/atRest.ts';
import { inlinePool } from '../support/inlinePool.ts';
import { instantClock } from '../support/instantClock.ts';
import { troubledPool } from '../support/troubledPool.ts';
import { openBench, type Bench, type Left } from './bench.ts';
import type { Strike } from './faultScript.ts';
import { Disk, strike } from './strikes.ts';
import type { Variation } from './variations.ts';

/** A run that has not ended after so much of its own time hangs: longer than all patience of the run added up. */
export const BOUND_H = 12;

/** What became of a night between the start of a process and its end. */
export interface AttemptStory {
  /** `died`: the process was ended, or the power went. */
  readonly end: 'finished' | 'parked' | 'failed' | 'hung' | 'died';
  readonly cause: string;
  readonly lastedS: number;
  readonly events: readonly EventRecord[];
  /** How often each fault really struck. */
  readonly struck: Readonly<Record<string, number>>;
  /** Commands that should never have reached a device. */
  readonly forbidden: readonly string[];
  readonly left: Left;
  /** What the story's teller did not foresee. */
  readonly odd: readonly string[];
}

export interface AttemptWish {
  readonly variation: Variation;
  readonly folder: string;
  readonly left: Left;
  readonly strikes: readonly Strike[];
  readonly isResumed: boolean;
  /** Where the folder is copied to when the process ends before the night does: as the disk is at that moment. */
  readonly remains: string;
}

type Outcome = Pick<AttemptStory, 'end' | 'cause'>;

/** Whether it ends the process. */
export const isDeath = ({ kind }: Strike): boolean => kind === 'kill' || kind === 'powerCut';

/** One life of the process that runs a night. */
class Attempt {
  readonly #wish: AttemptWish;
  readonly #bench: Bench;
  readonly #records: RecordsStore;
  readonly #night: OpenedNight;
  readonly #observatory: Observatory;
  readonly #pool = troubledPool(inlinePool());
  readonly #disk = new Disk();
  readonly #told: Map<string, number> = new Map();
  readonly #odd: string[] = [];
  readonly #over = new AbortController();

  constructor(wish: AttemptWish, bench: Bench, records: RecordsStore) {
    const { files } = wish.variation;
    this.#wish = wish;
    this.#bench = bench;
    this.#records = records;
    this.#night = wish.isResumed ? nightToResume(records) : beginNight(records, files, wish.left.atMs);
    this.#observatory = new Observatory({
      records,
      instrument: bench,
      config: files.config,
      pool: this.#pool,
      log: pino({ enabled: false }),
      waitingClock: instantClock(wish.left.atMs),
      freeBytes: async () => 1e12,
      writeBytes: this.#disk.write,
    });
  }

  async run(): Promise<AttemptStory> {
    const { clock, faults } = this.#bench;
    const eventsBefore = this.#records.events(this.#night.runId).length;
    const running = this.#runNight();
    const ends = [running, this.#hangs(), ...this.#wish.strikes.map((one) => (isDeath(one) ? this.#dies(one) : this.#struckBy(one)))];
    const outcome = await Promise.race(ends);
    const left = this.#bench.left();
    this.#over.abort();
    const events = this.#records.events(this.#night.runId).slice(eventsBefore);
    const struck = { ...Object.fromEntries(this.#told), ...Object.fromEntries(faults.struck), ...this.#computerStruck() };
    const lastedS = (clock.now() - this.#wish.left.atMs) / 1000;
    await this.#bench.close();
    // Whatever still runs meets closed devices; its records must not be closed under it before it has.
    await Promise.race([running, atRest(() => 0)]);
    this.#records.close();
    return { ...outcome, lastedS, events, struck, forbidden: this.#bench.forbidden(), left, odd: this.#odd };
  }

  async #runNight(): Promise<Outcome> {
    try {
      const { phase, cause } = await this.#observatory.runNight(this.#night);
      const end = phase === 'finished' || phase === 'parked' ? phase : 'failed';
      return { end, cause };
    } catch (error) {
      return { end: 'failed', cause: `it threw ${String(error)}` };
    }
  }

  async #hangs(): Promise<Outcome> {
    await this.#after(BOUND_H * 3600);
    return { end: 'hung', cause: `not over after ${BOUND_H} h` };
  }

  async #dies({ kind, atS }: Strike): Promise<Outcome> {
    await this.#after(atS);
    cpSync(this.#wish.folder, this.#wish.remains, { recursive: true, filter: (path) => !path.endsWith('-shm') });
    this.#count(kind);
    return { end: 'died', cause: kind };
  }

  /** Never resolves: what strikes ends no night by itself. */
  async #struckBy(one: Strike): Promise<never> {
    await this.#after(one.atS);
    try {
      this.#count(one.kind);
      const mend = await strike(one, { faults: this.#bench.faults, pool: this.#pool, disk: this.#disk, person: this.#observatory });
      if (one.forS !== undefined) {
        await this.#after(one.forS);
        await mend();
      }
    } catch (error) {
      this.#odd.push(`${one.kind}: ${String(error)}`);
    }
    return new Promise(() => undefined);
  }

  /** Never resolves once the attempt is over. */
  async #after(s: number): Promise<void> {
    try {
      await this.#bench.clock.sleep(1000 * s, this.#over.signal);
    } catch {
      await new Promise(() => undefined);
    }
  }

  /** Of what has no count of its own. */
  #count(kind: string): void {
    if (['pause', 'stop', 'kill', 'powerCut', 'jumpFocus', 'driftFocus', 'jumpClock', 'fillDatabase'].includes(kind)) this.#told.set(kind, (this.#told.get(kind) ?? 0) + 1);
  }

  #computerStruck(): Readonly<Record<string, number>> {
    const { crash, workerLost } = this.#pool.struck;
    const counts = { crashWorker: crash, loseWorkers: workerLost, fillDisk: this.#disk.refused };
    return Object.fromEntries(Object.entries(counts).filter(([, count]) => count > 0));
  }
}

/** Runs a night from its beginning, or from where the records have it, to the end of the process. */
export async function runAttempt(wish: AttemptWish): Promise<AttemptStory> {
  const maxBytes = wish.strikes.find(({ kind }) => kind === 'fillDatabase')?.amount;
  const records = openRecords(wish.folder, maxBytes === undefined ? {} : { maxBytes });
  const bench = await openBench(wish.variation, wish.left);
  return new Attempt(wish, bench, records).run();
}
