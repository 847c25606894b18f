import { DriverError, type Clock, type ErrorDetails } from '../interfaces/index.ts';
import { alarmError } from './alarm.ts';
import { Conversation } from './conversation.ts';
import { newTally, type Tally } from './counters.ts';
import { firstStatus, readSettings, untilAtRest } from './introduce.ts';
import { axesOf, type GcodeOptions } from './options.ts';
import { pacesOf, requireSettings } from './settings.ts';
import type { StatusReport } from './statusReport.ts';
import type { AxisPace } from './travelTime.ts';
import { alarmed, found, isPossible, isSamePlace, lost, NOWHERE, onReturn, seenAt, setOut, atRest, type Whereabouts } from './whereabouts.ts';

const BOOT_WITHIN_MS = 4000;
/** A place of rest seen longer ago than this is looked at again before anything moves. */
const FRESH_MS = 1000;
/** Work positions say nothing before the offset has come; it comes with every thirtieth report at the latest. */
const MOST_LOOKS = 40;

/** A status with its place in machine mm. */
export interface Look {
  readonly report: StatusReport;
  readonly mm: readonly number[];
}

/** The controller as known over all openings of its line: talks, and keeps track of where the motors are. */
export class Session {
  readonly tally: Tally = newTally();
  readonly about: ErrorDetails;
  readonly clock: Clock;
  readonly options: GcodeOptions;
  paces: readonly AxisPace[] = [];
  /** The machine's count at the reference place; zero with homing. */
  referenceMm: readonly number[] = [0, 0, 0];
  #last: Whereabouts = NOWHERE;
  /** Something was heard that may have been a restart. */
  #isInDoubt = false;
  #isClosed = false;
  /** Motions ordered so far. */
  #motions = 0;
  #talk: Conversation | undefined;
  #opening: Promise<Conversation> | undefined;
  #workOffsetMm: readonly number[] | undefined;

  constructor(options: GcodeOptions) {
    this.options = options;
    this.clock = options.clock;
    this.about = { ...options.line };
    const remembered = options.memory?.recall();
    if (!remembered) return;
    this.referenceMm = remembered.referenceMm;
    this.#last = { ...NOWHERE, lostBecause: undefined, restMm: remembered.restMm };
  }

  get known(): Whereabouts {
    return this.#last;
  }

  get isClosed(): boolean {
    return this.#isClosed;
  }

  /** The talk, opened anew where the line was lost. Rejects with what the wire or the introduction says, within 10 s. */
  async ready(): Promise<Conversation> {
    if (this.#isClosed) throw new DriverError('closed', this.about);
    if (this.#talk?.isOpen) return this.#talk;
    this.#opening ??= this.#open().finally(() => {
      this.#opening = undefined;
    });
    return this.#opening;
  }

  /** The talk if the line is open, for what must not wait: a stop. */
  get openTalk(): Conversation | undefined {
    return this.#talk?.isOpen ? this.#talk : undefined;
  }

  requireKnown(): void {
    const { lostBecause, alarm } = this.known;
    if (lostBecause !== undefined) throw new DriverError('positionLost', { ...this.about, reason: lostBecause });
    if (alarm !== undefined) throw alarmError(this.about, alarm);
  }

  /** The same in the middle of a motion, where an alarm is the news. */
  requireCalm(): void {
    const { alarm } = this.known;
    if (alarm !== undefined) throw alarmError(this.about, alarm);
    this.requireKnown();
  }

  /** Asks for status and place, whatever they are worth. */
  async look(talk: Conversation): Promise<Look> {
    for (let looks = 0; looks < MOST_LOOKS; looks++) {
      const report = await talk.status();
      if (report.workOffsetMm) this.#workOffsetMm = report.workOffsetMm;
      if (report.state === 'Alarm' && this.known.alarm === undefined) this.#know(alarmed(this.known, 0));
      if (report.isMachine) return { report, mm: report.positionMm };
      const offset = this.#workOffsetMm;
      if (offset) return { report, mm: report.positionMm.map((mm, axis) => mm + (offset[axis] ?? 0)) };
    }
    throw new DriverError('badReply', { ...this.about, what: 'no work offset in its reports' });
  }

  isPossible(mm: readonly number[]): boolean {
    return isPossible(this.known, mm, this.clock.now(), this.paces.map((pace) => pace.maxSpeedMmPerS));
  }

  see(mm: readonly number[]): void {
    this.#know(seenAt(this.known, mm, this.clock.now()));
  }

  /** Where the motors rest. Looks again where that was seen too long ago, or where there is doubt. Rejects with `positionLost` or `alarm`. */
  async standing(talk: Conversation): Promise<readonly number[]> {
    this.requireKnown();
    if (talk.isBehind) await talk.catchUp();
    const { restMm, seen } = this.known;
    const isFresh = seen !== undefined && this.clock.now() - seen.atMs < FRESH_MS;
    if (restMm && isFresh && !this.#isInDoubt) return restMm;
    return this.confirm(talk);
  }

  /** Looks where the motors rest, until two reports agree with one another or one with what is known. Rejects with `positionLost` or `alarm`. */
  async confirm(talk: Conversation): Promise<readonly number[]> {
    let before: readonly number[] | undefined;
    const motion = this.#motions;
    for (let looks = 0; looks < MOST_LOOKS; looks++) {
      const { report, mm } = await this.look(talk);
      this.requireKnown();
      // Somebody has begun to move meanwhile: what is known is theirs to say.
      if (motion !== this.#motions) return mm;
      const { restMm } = this.known;
      if (restMm && report.state === 'Idle' && isSamePlace(mm, restMm)) return this.#rests(restMm);
      if (report.state !== 'Idle') await this.clock.sleep(50);
      else if (before && isSamePlace(mm, before)) return this.#returned(mm);
      else if (restMm) this.tally.implausible++;
      before = report.state === 'Idle' ? mm : undefined;
    }
    throw new DriverError('timeout', { ...this.about, what: 'it does not come to rest' });
  }

  /** Where the motors are at this moment, under way: one report that can be, or two that agree. */
  async underWay(talk: Conversation): Promise<readonly number[]> {
    const first = await this.look(talk);
    if (this.isPossible(first.mm)) return first.mm;
    this.tally.implausible++;
    return (await this.look(talk)).mm;
  }

  /** A motion is about to be ordered. */
  setOut(fromMm: readonly number[], toMm: readonly number[]): void {
    this.options.memory?.keep(undefined);
    this.#motions++;
    this.#know(setOut(this.known, fromMm, toMm, this.clock.now()));
  }

  rest(mm: readonly number[]): void {
    this.#know(atRest(this.known, mm, this.clock.now()));
    this.options.memory?.keep({ restMm: mm, referenceMm: this.referenceMm });
  }

  /** Homed, or put at its reference place. */
  found(mm: readonly number[], referenceMm: readonly number[]): void {
    this.referenceMm = referenceMm;
    this.#isInDoubt = false;
    this.#know(found(mm, this.clock.now()));
    this.options.memory?.keep({ restMm: mm, referenceMm });
  }

  lose(because: string): void {
    this.#know(lost(this.known, because));
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    await this.#opening?.catch(() => undefined);
    await this.#talk?.close();
  }

  #rests(mm: readonly number[]): readonly number[] {
    this.#isInDoubt = false;
    this.#know(atRest(this.known, mm, this.clock.now()));
    return mm;
  }

  #returned(mm: readonly number[]): readonly number[] {
    this.#know(onReturn(this.known, mm, this.clock.now()));
    this.requireKnown();
    return this.#rests(this.known.restMm ?? mm);
  }

  /** What is lost is not to be remembered either. */
  #know(next: Whereabouts): void {
    const isNewlyLost = next.lostBecause !== undefined && this.#last.lostBecause === undefined;
    this.#last = next;
    if (isNewlyLost) this.options.memory?.keep(undefined);
  }

  async #open(): Promise<Conversation> {
    const talk = new Conversation(this.clock, this.tally, this.about, {
      restarted: () => this.lose('the controller has restarted'),
      alarmed: (code) => {
        this.#know(alarmed(this.known, code));
      },
      puzzled: () => {
        this.#isInDoubt = true;
      },
      lost: () => {
        this.#isInDoubt = true;
      },
    });
    talk.attach(await this.options.openWire(talk));
    try {
      await this.#introduce(talk);
    } catch (error) {
      await talk.close();
      throw error;
    }
    if (this.#talk) this.tally.reconnects++;
    this.#talk = talk;
    return talk;
  }

  async #introduce(talk: Conversation): Promise<void> {
    this.#workOffsetMm = undefined;
    await firstStatus(talk, this.clock, this.about, this.options.bootWithinMs ?? BOOT_WITHIN_MS);
    await untilAtRest(talk, this.clock, this.about);
    const settings = await readSettings(talk, this.about);
    const axes = axesOf(this.options);
    requireSettings(settings, axes, this.options.focus, this.options.reference, this.about);
    this.paces = pacesOf(settings, axes);
    if (talk.banner !== undefined) this.lose('the controller restarted when its line was opened');
    talk.isIntroducing = false;
    // What it says of its place is held against what was known before; being lost is no reason not to open.
    await this.confirm(talk).catch((error: unknown) => {
      if (!(error instanceof DriverError && (error.code === 'positionLost' || error.code === 'alarm'))) throw error;
    });
  }
}
