import { DriverError, type Clock } from '../interfaces/index.ts';
import type { OpenWire } from '../line/wire.ts';
import { Connection } from './connection.ts';
import { visible } from './controlCharacters.ts';
import { converse, type Exchange, type Manners } from './converse.ts';
import { askForErrors } from './errorQuery.ts';
import { introduce } from './introduce.ts';
import { Interruption, isWorthRepeating } from './interruption.ts';
import type { CutLine } from './lineCutter.ts';
import { match, type Fields } from './pattern.ts';
import type { DevicePlan, Step } from './plan.ts';
import type { Listen } from './spoken.ts';
import { fill } from './template.ts';
import { Turns } from './turns.ts';

export type Values = Readonly<Record<string, string>>;

export interface DialogueOptions {
  readonly plan: DevicePlan;
  readonly openWire: OpenWire;
  readonly clock: Clock;
  readonly listen: Listen;
}

export interface AskOptions {
  readonly values?: Values;
  /**
   * The epoch in which a motion was begun: on a line that was lost since (`disconnected`), or in another epoch (`positionLost`), nothing is
   * sent for it any more.
   */
  readonly epoch?: number;
}

/** After so many stops in a row a question is given up, so that it does not wait for ever. */
const MOST_INTERRUPTIONS = 8;
/** Stop commands' answers may be mixed with those of what they cut off. */
const QUIET_AFTER_STOP_MS = 30;

/**
 * The conversation with one device: one exchange at a time, bounded repeats, opened anew after the line was lost. A stop goes to the front
 * and cuts off what is being waited for.
 */
export class Dialogue {
  #connection: Connection | undefined;
  #identity: Fields = new Map();
  #epoch = 0;
  #isClosed = false;
  #isOpeningDue = false;
  #wasOpen = false;
  #lastEndMs = Number.NEGATIVE_INFINITY;
  #trouble: DriverError | undefined;
  #current: AbortController | undefined;
  readonly #turns = new Turns();
  readonly #plan: DevicePlan;
  readonly #openWire: OpenWire;
  readonly #manners: Manners;

  constructor({ plan, openWire, clock, listen }: DialogueOptions) {
    this.#plan = plan;
    this.#openWire = openWire;
    this.#manners = { clock, device: plan.model, echo: plan.line.echo, listen };
  }

  /** Grows whenever the device may have forgotten where it is: the line was opened anew, or it said so. */
  get epoch(): number {
    return this.#epoch;
  }

  /** What the device said of itself on opening. */
  get identity(): Fields {
    return this.#identity;
  }

  /** Opens the line where it is not open. Rejects as {@link introduce} and the wire's opener do. */
  async connect(): Promise<void> {
    await this.#turns.take(() => this.#ready());
  }

  /** Commands one after the other; all that their answers said. */
  async run(steps: readonly Step[], options: AskOptions = {}): Promise<Fields> {
    const all = new Map<string, number | string>();
    for (const step of steps) {
      const { expect } = step;
      const fields = await this.#exchange({ step, text: fill(step.send, options.values ?? {}), ...(expect && { understand: (line: string) => match(expect, line) }) }, options.epoch);
      for (const [name, value] of fields ?? []) all.set(name, value);
    }
    return all;
  }

  /** One question whose answer the caller reads. */
  async ask<T>(step: Step, understand: (line: string) => T | undefined, epoch?: number): Promise<T> {
    const answer = await this.#exchange({ step, text: fill(step.send, {}), understand }, epoch);
    if (answer === undefined) throw new DriverError('badReply', { device: this.#plan.model });
    return answer;
  }

  /** Sends these before anything else that waits; whatever is being waited for is cut off. */
  async urgent(steps: readonly Step[]): Promise<void> {
    this.#current?.abort(new Interruption('stopped'));
    await this.#turns.take(async () => {
      for (const step of steps) await this.#repeated(step, () => this.#say(step));
      await this.#connection?.drain(QUIET_AFTER_STOP_MS).catch(() => undefined);
    }, true);
  }

  /** Says the closing words where the line is open, and closes it in any case. Rejects with the first closing command's failure. */
  async close(): Promise<void> {
    if (this.#isClosed) return;
    this.#isClosed = true;
    await this.#turns.take(async () => {
      const connection = this.#connection;
      let failure: unknown;
      for (const step of connection?.isOpen ? this.#plan.closing : []) {
        await this.#plainly(step).catch((error: unknown) => {
          failure ??= error;
        });
      }
      await connection?.close();
      if (failure !== undefined) throw failure as Error;
    });
  }

  async #exchange<T>(exchange: Exchange<T>, epoch: number | undefined): Promise<T | undefined> {
    this.#throwTrouble();
    for (let interruptions = 0; ; interruptions++) {
      try {
        return await this.#repeated(exchange.step, () => this.#turns.take(() => this.#attempt(exchange, epoch)));
      } catch (error) {
        if (!(error instanceof Interruption)) throw error;
        const isBound = epoch !== undefined || exchange.step.isMotion || !exchange.step.isRepeatable;
        if (isBound || interruptions >= MOST_INTERRUPTIONS) throw new DriverError(error.code, { device: this.#plan.model });
      }
    }
  }

  async #repeated<T>(step: Step, attempt: () => Promise<T>): Promise<T> {
    for (let left = step.isRepeatable ? this.#plan.line.retries : 0; ; left--) {
      try {
        return await attempt();
      } catch (error) {
        if (left <= 0 || !isWorthRepeating(error)) throw error;
      }
    }
  }

  async #attempt<T>(exchange: Exchange<T>, epoch: number | undefined): Promise<T | undefined> {
    const current = new AbortController();
    this.#current = current;
    try {
      if (epoch !== undefined && !this.#connection?.isOpen) throw new DriverError('disconnected', { device: this.#plan.model, line: this.#connection?.name ?? '' });
      if (epoch !== undefined && epoch !== this.#epoch) throw new Interruption('positionLost');
      const connection = await this.#ready();
      if (current.signal.aborted) throw current.signal.reason as Error;
      return await this.#politely(connection, exchange, current.signal);
    } finally {
      this.#current = undefined;
    }
  }

  /** After an answer that failed, what may still come is waited for and thrown away. */
  async #politely<T>(connection: Connection, exchange: Exchange<T>, signal?: AbortSignal): Promise<T | undefined> {
    const { clock } = this.#manners;
    const pauseMs = this.#lastEndMs + this.#plan.line.delayMs - clock.now();
    if (pauseMs > 0) await clock.sleep(pauseMs, signal);
    try {
      const answer = await converse(connection, exchange, this.#manners, signal);
      const { errorQuery } = this.#plan;
      if (errorQuery && !exchange.understand) await askForErrors(connection, errorQuery, exchange.text, this.#manners, signal);
      return answer;
    } catch (error) {
      if (isWorthRepeating(error)) await connection.drain(exchange.step.replyWithinMs).catch(() => undefined);
      throw signal?.aborted ? signal.reason : error;
    } finally {
      this.#lastEndMs = clock.now();
    }
  }

  /** A stop: any line but its answer may belong to what it cut off. */
  async #say(step: Step): Promise<void> {
    const { expect } = step;
    const connection = await this.#ready();
    await this.#politely(connection, { step, text: fill(step.send, {}), ...(expect && { understand: (line: string) => match(expect, line), passedOver: [] }) });
  }

  /** One command of the opening or the closing, on the line as it is. */
  async #plainly(step: Step): Promise<void> {
    const { expect } = step;
    if (this.#connection) await this.#politely(this.#connection, { step, text: fill(step.send, {}), ...(expect && { understand: (line: string) => match(expect, line) }) });
  }

  async #ready(): Promise<Connection> {
    if (this.#isClosed) throw new DriverError('closed', { device: this.#plan.model });
    if (this.#connection?.isOpen && !this.#isOpeningDue) return this.#connection;
    const connection = this.#connection?.isOpen ? this.#connection : await this.#open();
    try {
      this.#identity = await introduce(connection, this.#plan, this.#manners);
      this.#isOpeningDue = false;
      for (const step of this.#plan.opening) await this.#plainly(step);
    } catch (error) {
      await connection.close();
      this.#connection = undefined;
      throw error;
    }
    if (this.#wasOpen) this.#epoch++;
    this.#wasOpen = true;
    return connection;
  }

  async #open(): Promise<Connection> {
    await this.#connection?.close();
    const { line } = this.#plan;
    const { clock, listen } = this.#manners;
    const connection = await Connection.open({ openWire: this.#openWire, clock, ...line, isUnsolicited: (cut) => this.#isUnsolicited(cut) });
    this.#connection = connection;
    this.#lastEndMs = Number.NEGATIVE_INFINITY;
    listen({ kind: 'opened', line: connection.name });
    await clock.sleep(line.settleMs);
    return connection;
  }

  #isUnsolicited({ text, isWhole }: CutLine): boolean {
    const found = isWhole ? this.#plan.unsolicited.find(({ pattern }) => match(pattern, text)) : undefined;
    if (!found) return false;
    this.#manners.listen({ kind: 'heard', text, as: 'unasked' });
    if (found.means === 'error') this.#trouble = new DriverError('deviceError', { device: this.#plan.model, ...Object.fromEntries(match(found.pattern, text) ?? []), seen: visible(text) });
    if (found.means === 'restarted') this.#isOpeningDue = true;
    if (found.means === 'restarted' || found.means === 'positionLost') {
      this.#epoch++;
      this.#current?.abort(new Interruption('positionLost'));
    }
    return true;
  }

  /** An error that came unasked is told to whoever asks next. */
  #throwTrouble(): void {
    const trouble = this.#trouble;
    this.#trouble = undefined;
    if (trouble) throw trouble;
  }
}
