import type { Clock } from '../../drivers/interfaces/index.ts';
import { sentenceFor } from '../errors/index.ts';
import type { RecordsStore } from '../records/types.ts';
import type { NightBoard } from '../run/board.ts';
import type { OpenedNight } from '../run/openNight.ts';
import type { EventView, ProgressView } from '../server/messages.ts';
import { judgeFault, noFault, standsStillMs, type FaultState } from './faultWatch.ts';
import type { OpenedPeople } from './openPeople.ts';
import { Outbox, type Untold } from './outbox.ts';
import { flakesInTable } from './mailText.ts';
import { bestFlakes, courseFrom, figuresOf, picturesOf, type NightSources } from './tidings.ts';
import { waitUntilMorningMs } from './timeOfDay.ts';
import type { Tidings } from './types.ts';

/** Troubles that are told with a message: the latest. */
const troublesTold = 5;
/** All four attempts with their waits, for whoever ends after a night; a person who ends it by hand waits less. */
const patienceMs = 240_000;
const shortPatienceMs = 15_000;

export interface TellerParts {
  readonly opened: OpenedPeople;
  readonly board: NightBoard;
  readonly records: RecordsStore;
  /** Real time, by which messages are sent. */
  readonly clock: Clock;
  /** The night's own time, for what is written into the records. */
  readonly nightClock: Clock;
  readonly log: { warn(details: object, text: string): void };
  /** Whether the summary may wait for its time of day: the daemon stays, a scan ends with its night. */
  readonly staysOn: boolean;
}

/**
 * Tells people of nights. It listens to the board as a page does; the run knows nothing of it and never waits for it, and nothing that
 * goes wrong here reaches the run: what could not be told becomes an event in the records and on the page.
 */
export class Teller {
  private readonly parts: TellerParts;
  private readonly outboxes: readonly Outbox[];
  private night: NightSources | undefined;
  private leave: () => void = () => undefined;
  private page: string | undefined;
  private faults: FaultState = noFault;
  private troubles: readonly string[] = [];
  private latest: ProgressView | undefined;
  private standstill: AbortController | undefined;
  /** Ends the wait for the time of day of the summary. */
  private readonly morning = new AbortController();
  private messages = 0;
  /** What is being put together for the outboxes. */
  private pending: Promise<void> = Promise.resolve();

  constructor(parts: TellerParts) {
    this.parts = parts;
    this.page = parts.opened.people.page;
    this.outboxes = parts.opened.channels.map((channel) => new Outbox(channel, parts.clock, (untold) => this.couldNotTell(untold)));
  }

  /** The address that is printed; what people.yaml says goes before it. */
  pageIs(url: string): void {
    this.page ??= url;
  }

  begin(opened: OpenedNight): void {
    const { board, records } = this.parts;
    this.leave();
    this.night = { board, records, opened };
    this.faults = noFault;
    this.troubles = [];
    this.latest = undefined;
    this.leave = board.subscribe((message) => {
      if (message.type === 'progress') this.progressed(message.progress);
      if (message.type === 'event') this.happened(message.event);
    });
  }

  /** Once the night is over and the instrument safe, or after an error of the run itself. Returns at once. */
  ended(error?: unknown): void {
    const { night, latest } = this;
    this.leave();
    this.standstill?.abort();
    if (!night) return;
    const kind = latest?.state === 'finished' || latest?.state === 'parked' ? latest.state : 'failed';
    const sentence = error === undefined ? (latest?.sentence ?? 'The night has ended.') : sentenceFor(error).sentence;
    const waitMs = this.parts.staysOn ? waitUntilMorningMs(this.parts.opened.people.morningAt, this.parts.clock.now()) : 0;
    this.after(() => this.put(this.tidings(kind, kind === 'finished' ? sentence : `${sentence} Look at the instrument; then go on with \`nightjar scan --resume\`, or \`nightjar serve\` without a run sheet.`), waitMs === 0));
    this.after(async () => {
      if (waitMs > 0) await this.parts.clock.sleep(waitMs, this.morning.signal).catch(() => undefined);
      await this.summarise(night, sentence);
    });
  }

  /** Sends what still waits, the summary too, and gives up what does not get through; sooner once `interrupted` is aborted. */
  async close(interrupted: AbortSignal): Promise<void> {
    this.leave();
    this.standstill?.abort();
    this.morning.abort();
    await this.pending;
    const settled = new AbortController();
    const patience = (ms: number): Promise<void> => this.parts.clock.sleep(ms, settled.signal).catch(() => undefined);
    const isInterrupted = new Promise<void>((resolve) => {
      if (interrupted.aborted) resolve();
      else interrupted.addEventListener('abort', () => resolve(), { once: true, signal: settled.signal });
    });
    const all = Promise.all(this.outboxes.map((outbox) => outbox.settled()));
    await Promise.race([all, patience(patienceMs), isInterrupted.then(() => patience(shortPatienceMs))]);
    settled.abort();
    await Promise.all(this.outboxes.map((outbox) => outbox.giveUp()));
  }

  private progressed(progress: ProgressView): void {
    this.latest = progress;
    const { state, tell } = judgeFault(this.faults, progress, this.parts.clock.now());
    this.faults = state;
    for (const sentence of tell) this.put(this.tidings('fault', sentence));
    this.watchStandstill();
  }

  /** Nothing is heard of a run that stands still: it is looked at again when the time is over. */
  private watchStandstill(): void {
    const stands = this.faults.recoveringSinceMs !== undefined && !this.faults.standstillTold;
    if (!stands) {
      this.standstill?.abort();
      this.standstill = undefined;
      return;
    }
    if (this.standstill) return;
    const watch = new AbortController();
    this.standstill = watch;
    this.parts.clock.sleep(standsStillMs, watch.signal).then(
      () => {
        if (this.latest && !watch.signal.aborted) this.progressed(this.latest);
      },
      () => undefined,
    );
  }

  private happened({ kind, text }: EventView): void {
    if (kind === 'trouble') this.troubles = [...this.troubles, text].slice(-troublesTold);
  }

  private tidings(kind: Tidings['kind'], sentence: string): Tidings {
    const { night, page, troubles, parts } = this;
    const atMs = parts.clock.now();
    return {
      id: `${night?.opened.runId ?? 'none'}-${kind}-${atMs}-${++this.messages}`,
      kind,
      atMs,
      sentence,
      ...(night ? { night: figuresOf(night) } : {}),
      flakes: [],
      pictures: new Map(),
      troubles,
      ...(page === undefined ? {} : { page }),
    };
  }

  private async summarise(night: NightSources, sentence: string): Promise<void> {
    const flakes = bestFlakes(night, flakesInTable);
    const pictures = await picturesOf(night, flakes.slice(0, this.parts.opened.people.pictures));
    this.put({ ...this.tidings('morning', sentence), course: courseFrom(night), flakes, pictures });
  }

  /** `summaryFollows`: a good end is not told twice at once to whoever gets the summary. */
  private put(tidings: Tidings, summaryFollows = false): void {
    this.parts.opened.channels.forEach(({ about }, n) => {
      if (summaryFollows && tidings.kind === 'finished' && about.has('morning')) return;
      this.outboxes[n]?.put(tidings);
    });
  }

  /** One thing after the other; a fault of our own is logged and shown, and goes no further. */
  private after(work: () => void | Promise<void>): void {
    this.pending = this.pending.then(work).catch((error: unknown) => {
      this.parts.log.warn({ err: error }, 'a message could not be put together');
      this.note(`A message could not be put together: ${sentenceFor(error).happened}`);
    });
  }

  private couldNotTell({ channel, kind, attempts, reason }: Untold): void {
    this.parts.log.warn({ channel, kind, attempts, reason }, 'could not be told');
    this.note(`Not told (${kind}), ${channel}, after ${attempts} ${attempts === 1 ? 'attempt' : 'attempts'}: ${reason}`);
  }

  private note(text: string): void {
    const { records, board, clock, nightClock, log } = this.parts;
    try {
      if (this.night) records.addEvent(this.night.opened.runId, { atMs: nightClock.now(), kind: 'telling', text });
    } catch (error) {
      log.warn({ err: error }, 'could not be recorded');
    }
    board.addEvent({ atMs: clock.now(), kind: 'telling', text });
  }
}
