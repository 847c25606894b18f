import { DriverError } from '../interfaces/index.ts';
import { encodeJog, REAL_TIME, type JogTarget } from './commands.ts';
import { COMMAND_WITHIN_MS, type Conversation } from './conversation.ts';
import type { Look, Session } from './session.ts';
import { stoppingMs, travelMs, waySpeedMmPerS } from './travelTime.ts';
import { isSamePlace } from './whereabouts.ts';

/** A straight way to be gone, from rest to rest. */
export interface Order {
  readonly device: 'stage' | 'focus';
  readonly target: JogTarget;
  /** Where all axes shall stand, machine mm, to the step. */
  readonly toMm: readonly number[];
  readonly speedUmPerS: number;
  readonly stop: AbortSignal;
}

const MOST_ATTEMPTS = 3;
/** Around arrival; half of it for the first time, since most moves end when they are due. */
const POLL_MS = 10;
/** Under way: to see that all is well. */
const SLOW_POLL_MS = 200;
/** An arrival later than this after it was due is no arrival. */
const LATE_MS = 3000;
/** After a cancel: asked this often, and given up this long after it should stand. */
const STOP_POLL_MS = 30;
const STOP_LATE_MS = 1500;
const RESET_WITHIN_MS = 2000;

// Numbers of errors in the documentation of grbl 1.1 (from memory).
const BEYOND_TRAVEL = 15;
/** What a character changed on its way can turn a good line into: no letter, no number, no statement, an unknown word, a jog without its feed. */
const MAY_BE_NOISE: ReadonlySet<number> = new Set([1, 2, 3, 11, 16, 20, 21, 22, 23, 24, 25, 31, 33]);

type End = 'arrived' | 'notBegun';

/** One order being carried out. */
class Drive {
  readonly #session: Session;
  readonly #talk: Conversation;
  readonly #order: Order;
  readonly #fromMm: readonly number[];
  readonly #jog: string;
  readonly #wayMs: number;
  readonly #slowingMs: number;

  constructor(session: Session, talk: Conversation, order: Order, fromMm: readonly number[]) {
    this.#session = session;
    this.#talk = talk;
    this.#order = order;
    this.#fromMm = fromMm;
    const deltaMm = order.toMm.map((to, axis) => to - (fromMm[axis] ?? to));
    const feedMmPerS = waySpeedMmPerS(deltaMm, session.paces, order.speedUmPerS / 1000);
    // An axis that stands right already is left out: fewer bytes on a slow line. The arrival is judged on all axes.
    const moving = order.target.filter(({ index }) => deltaMm[index] !== 0);
    this.#jog = encodeJog(moving, feedMmPerS * 1000);
    this.#wayMs = travelMs(deltaMm, session.paces, feedMmPerS);
    this.#slowingMs = stoppingMs(deltaMm, session.paces, feedMmPerS);
  }

  async run(): Promise<readonly number[]> {
    const { toMm, stop } = this.#order;
    for (let attempt = 0; attempt < MOST_ATTEMPTS; attempt++) {
      if (stop.aborted) throw this.#stopped();
      if (attempt > 0) this.#session.tally.retries++;
      this.#session.setOut(this.#fromMm, toMm);
      const end = await this.#once();
      if (end === 'arrived') {
        this.#session.rest(toMm);
        return toMm;
      }
      this.#session.rest(this.#fromMm);
    }
    throw this.#error('stalled', { what: 'the controller does not begin the move', attempts: MOST_ATTEMPTS });
  }

  async #once(): Promise<End> {
    const answer = await this.#talk.command(this.#jog, COMMAND_WITHIN_MS);
    if (answer.outcome === 'error') return this.#refused(answer.code);
    return this.#watch(this.#session.clock.now());
  }

  /** The controller says no. Nothing has moved then; a line that may have been spoilt on its way is sent again. */
  #refused(code: number): End {
    if (MAY_BE_NOISE.has(code)) return 'notBegun';
    this.#session.rest(this.#fromMm);
    if (code === BEYOND_TRAVEL) throw this.#error('limit', { what: 'beyond the soft limits of the controller', error: code });
    throw this.#error('deviceError', { error: code, command: this.#jog });
  }

  /** Waits for the arrival: two Idle reports that agree. */
  async #watch(startMs: number): Promise<End> {
    const { clock } = this.#session;
    const dueMs = startMs + this.#wayMs;
    let idleAt: readonly number[] | undefined;
    for (let nextMs = Math.min(dueMs, startMs + SLOW_POLL_MS); ; ) {
      if (!idleAt && !(await this.#sleepUntil(nextMs))) return this.#halt();
      const askedMs = clock.now();
      const look = await this.#believable();
      if (look?.report.state === 'Idle') {
        if (idleAt && isSamePlace(look.mm, idleAt)) return this.#conclude(look.mm);
        idleAt = look.mm;
        continue;
      }
      idleAt = undefined;
      if (askedMs > dueMs + LATE_MS) throw this.#error('timeout', { what: 'the move does not end', state: look?.report.state ?? 'unknown', waitedMs: askedMs - startMs });
      const isFar = dueMs - askedMs > 2 * SLOW_POLL_MS || look?.report.state === 'Hold' || look?.report.state === 'Door';
      const soonMs = askedMs + (askedMs - dueMs < POLL_MS ? POLL_MS / 2 : POLL_MS);
      nextMs = isFar ? askedMs + SLOW_POLL_MS : Math.max(soonMs, Math.min(dueMs, askedMs + 2 * SLOW_POLL_MS));
    }
  }

  /** False when the move is to be stopped. */
  async #sleepUntil(ms: number): Promise<boolean> {
    const { stop } = this.#order;
    const restMs = ms - this.#session.clock.now();
    if (restMs > 0) await this.#session.clock.sleep(restMs, stop).catch(() => undefined);
    return !stop.aborted;
  }

  /** A position that can be, or `undefined` where it cannot: then it must be asked for again. */
  async #believable(): Promise<Look | undefined> {
    // After an alarm or a restart that came unasked, nothing more may be answered.
    this.#session.requireCalm();
    const look = await this.#session.look(this.#talk);
    this.#session.requireCalm();
    if (this.#session.isPossible(look.mm)) {
      this.#session.see(look.mm);
      return look;
    }
    this.#session.tally.implausible++;
    const again = await this.#session.look(this.#talk);
    // Twice the same: it is no noise. Where it stands then is judged at the end.
    if (isSamePlace(again.mm, look.mm)) return again;
    return this.#session.isPossible(again.mm) ? again : undefined;
  }

  #conclude(mm: readonly number[]): End {
    if (isSamePlace(mm, this.#order.toMm)) return 'arrived';
    if (isSamePlace(mm, this.#fromMm)) return 'notBegun';
    if (!this.#session.isPossible(mm)) {
      this.#session.lose('it stands off the way that it was sent');
      throw this.#error('positionLost', { reason: 'it stands off the way that it was sent' });
    }
    this.#session.rest(mm);
    throw this.#error('stalled', this.#places(mm));
  }

  /** Slows down and stands; only where a cancel does not help, the firmware is restarted, and the place is lost. */
  async #halt(): Promise<never> {
    const { clock } = this.#session;
    const lateMs = clock.now() + this.#slowingMs + STOP_LATE_MS;
    let idleAt: readonly number[] | undefined;
    while (clock.now() < lateMs) {
      await this.#talk.realTime(REAL_TIME.cancelJog);
      const look = await this.#believable();
      if (look?.report.state !== 'Idle') {
        idleAt = undefined;
        await clock.sleep(STOP_POLL_MS);
        continue;
      }
      if (idleAt && isSamePlace(look.mm, idleAt)) {
        this.#session.rest(isSamePlace(look.mm, this.#order.toMm) ? this.#order.toMm : look.mm);
        throw this.#stopped();
      }
      idleAt = look.mm;
    }
    await this.#talk.realTime(REAL_TIME.hold);
    this.#session.lose('it had to be stopped by a restart');
    await this.#talk.reset(RESET_WITHIN_MS);
    throw this.#stopped();
  }

  #stopped(): DriverError {
    return new DriverError('stopped', { device: this.#order.device });
  }

  #error(code: DriverError['code'], details: DriverError['details']): DriverError {
    return new DriverError(code, { device: this.#order.device, ...this.#session.about, ...details });
  }

  #places(mm: readonly number[]): DriverError['details'] {
    const text = (values: readonly number[]) => values.map((value) => value.toFixed(3)).join(' ');
    return { machineAtMm: text(mm), machineAskedMm: text(this.#order.toMm) };
  }
}

/** After which the motors may still be under way, unless they are told not to be. */
const GOES_ON: ReadonlySet<string> = new Set(['timeout', 'garbled', 'badReply', 'unsupported']);

/**
 * Sends the motors along a straight way and resolves where they stand, to the step. Rejects with `stopped`, `limit`, `stalled`, `timeout`,
 * `garbled`, `positionLost`, `alarm`, `deviceError` or `disconnected`; a jog that can no longer be watched is cancelled.
 */
export async function drive(session: Session, talk: Conversation, order: Order): Promise<readonly number[]> {
  const fromMm = await session.standing(talk);
  if (order.toMm.every((to, axis) => Math.abs(to - (fromMm[axis] ?? Number.NaN)) < 1e-7)) return fromMm;
  try {
    return await new Drive(session, talk, order, fromMm).run();
  } catch (error) {
    if (error instanceof DriverError && GOES_ON.has(error.code)) await talk.realTime(REAL_TIME.cancelJog).catch(() => undefined);
    throw error;
  }
}
