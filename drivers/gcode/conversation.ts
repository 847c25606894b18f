import { DriverError, type Clock, type ErrorDetails } from '../interfaces/index.ts';
import { hexOf, LineReader, type LineHeard } from '../line/lineReader.ts';
import type { Wire, WireListener } from '../line/wire.ts';
import { alarmError } from './alarm.ts';
import { ASK_IDENTITY, REAL_TIME } from './commands.ts';
import type { Tally } from './counters.ts';
import { parseReply, type Reply } from './reply.ts';
import type { StatusReport } from './statusReport.ts';
import { Waiting } from './waiting.ts';

/** How a command was answered. `unclear`: an answer came, but could not be read. `silent`: none came. */
export interface Answer {
  readonly outcome: 'ok' | 'error' | 'unclear' | 'silent';
  /** With `error`, its number. */
  readonly code: number;
  /** What was said before the answer. */
  readonly said: readonly Reply[];
}

/** What comes unasked, and what ends the line. */
export interface ConversationEvents {
  restarted(banner: string): void;
  alarmed(code: number): void;
  /** A line that nobody waited for and that could not be read: it may have been a banner. */
  puzzled(): void;
  lost(error: DriverError): void;
}

interface Asked {
  readonly waiting: Waiting<Answer>;
  readonly said: Reply[];
  /** A line came that could not be read: it may have been the answer. */
  isPuzzled: boolean;
}

/** Once a line could not be read, the answer may have been in it: this much longer is waited for another. */
const GRACE_MS = 60;
const STATUS_WITHIN_MS = 400;
/** Answers to commands that move nothing. */
export const COMMAND_WITHIN_MS = 1000;
const MOST_ATTEMPTS = 2;
const CATCH_UP_PAUSE_MS = 100;
/** Status asked again in vain: silence for this many times, or unreadable lines for this many. */
const MOST_SILENCES = 4;
const MOST_UNCLEAR = 8;
/** Replies kept of one command; `$$` has about 35. */
const MOST_REPLIES = 200;
const MOST_SHOWN_BYTES = 48;

/** The talk over one opened wire: one command at a time, status between. It ends with the wire. */
export class Conversation implements WireListener {
  /** Bytes heard so far, and how many of them no text has. */
  bytesHeard = 0;
  oddBytesHeard = 0;
  /** The last of them, for people. */
  #lastBytes: readonly number[] = [];
  banner: string | undefined;
  /** A command was not answered in its time: its answer may still come, and must not be taken for that of another. */
  isBehind = false;
  #wire: Wire | undefined;
  #gone: DriverError | undefined;
  #command: Asked | undefined;
  #status: Waiting<StatusReport | 'unclear' | 'silent'> | undefined;
  /** While it is being introduced: restarts and alarms are noted, and end no question. */
  isIntroducing = true;
  #expectsBanner = false;
  #catchingUp: Promise<void> | undefined;
  readonly #reader = new LineReader();
  readonly #clock: Clock;
  readonly #tally: Tally;
  readonly #about: ErrorDetails;
  readonly #events: ConversationEvents;

  constructor(clock: Clock, tally: Tally, about: ErrorDetails, events: ConversationEvents) {
    this.#clock = clock;
    this.#tally = tally;
    this.#about = about;
    this.#events = events;
  }

  attach(wire: Wire): void {
    this.#wire = wire;
  }

  get isOpen(): boolean {
    return this.#wire !== undefined && this.#gone === undefined && this.#wire.isOpen;
  }

  received(bytes: Uint8Array): void {
    this.bytesHeard += bytes.length;
    this.oddBytesHeard += bytes.filter((byte) => byte >= 0x7f || (byte < 0x20 && byte !== 0x0d && byte !== 0x0a && byte !== 0x09)).length;
    this.#lastBytes = [...this.#lastBytes, ...bytes.slice(-MOST_SHOWN_BYTES)].slice(-MOST_SHOWN_BYTES);
    for (const heard of this.#reader.push(bytes)) this.#hear(heard);
  }

  lost(error: DriverError): void {
    this.#gone = error;
    this.#fail(error);
    this.#events.lost(error);
  }

  /** What was seen on the line, for the details of an error. */
  seen(): ErrorDetails {
    const text = String.fromCharCode(...this.#lastBytes.map((byte) => (byte >= 0x20 && byte < 0x7f ? byte : 0x2e)));
    return this.#lastBytes.length === 0 ? {} : { seen: text, seenHex: hexOf(this.#lastBytes) };
  }

  /** Sends one line and waits for its answer. Rejects with `disconnected`, `timeout` of the line, `alarm` or `positionLost` (a restart). */
  async command(text: string, withinMs: number): Promise<Answer> {
    if (this.#command) throw new DriverError('unsupported', { ...this.#about, what: 'two commands at once' });
    const said: Reply[] = [];
    const waiting = new Waiting<Answer>(this.#clock, withinMs, { outcome: 'silent', code: 0, said });
    this.#command = { waiting, said, isPuzzled: false };
    try {
      this.#tally.linesSent++;
      await this.#send(Buffer.from(`${text}\n`, 'latin1'));
      const answer = await waiting.answered;
      if (answer.outcome === 'silent') this.#tally.silences++;
      this.isBehind ||= answer.outcome === 'silent';
      return answer;
    } finally {
      waiting.resolve({ outcome: 'silent', code: 0, said });
      this.#command = undefined;
    }
  }

  /** Asks for the status once. Whoever asks meanwhile gets the same answer. */
  async statusOnce(withinMs = STATUS_WITHIN_MS): Promise<StatusReport | 'unclear' | 'silent'> {
    if (this.#status) return this.#status.answered;
    const waiting = new Waiting<StatusReport | 'unclear' | 'silent'>(this.#clock, withinMs, 'silent');
    this.#status = waiting;
    try {
      this.#tally.statusAsked++;
      await this.realTime(REAL_TIME.status);
      const answer = await waiting.answered;
      if (answer === 'silent') this.#tally.silences++;
      return answer;
    } catch (error) {
      waiting.reject(error as Error);
      throw error;
    } finally {
      if (this.#status === waiting) this.#status = undefined;
    }
  }

  /** Asks until a status is read. Rejects with `timeout` after a silence of 1.6 s, with `garbled` when it cannot be read. */
  async status(): Promise<StatusReport> {
    const oddBefore = this.oddBytesHeard;
    for (let silences = 0, unclear = 0; ; ) {
      const report = await this.statusOnce();
      if (report === 'silent') silences++;
      else if (report === 'unclear') unclear++;
      else return report;
      if (silences >= MOST_SILENCES) throw this.#unanswered('?', MOST_SILENCES * STATUS_WITHIN_MS, oddBefore);
      if (unclear >= MOST_UNCLEAR) throw new DriverError('garbled', { ...this.#about, ...this.seen() });
    }
  }

  /** Makes sure that no answer is still on its way: its own words come back, and whatever came before them is past. */
  catchUp(): Promise<void> {
    this.#catchingUp ??= this.#catchUp().finally(() => {
      this.#catchingUp = undefined;
    });
    return this.#catchingUp;
  }

  async #catchUp(): Promise<void> {
    const oddBefore = this.oddBytesHeard;
    for (let attempt = 0; attempt < MOST_ATTEMPTS; attempt++) {
      const { outcome, said } = await this.command(ASK_IDENTITY, COMMAND_WITHIN_MS);
      if (outcome === 'ok' && said.some((reply) => reply.kind === 'message' && reply.text.startsWith('[VER:'))) {
        this.isBehind = false;
        return;
      }
      // Under way it refuses.
      await this.#clock.sleep(CATCH_UP_PAUSE_MS);
    }
    throw this.#unanswered(ASK_IDENTITY, MOST_ATTEMPTS * COMMAND_WITHIN_MS, oddBefore);
  }

  /** Sends one byte that acts at once. */
  realTime(byte: number): Promise<void> {
    return this.#send(Uint8Array.of(byte));
  }

  /** Restarts the firmware by 0x18; true when its banner came. */
  async reset(withinMs: number): Promise<boolean> {
    this.banner = undefined;
    this.#expectsBanner = true;
    try {
      await this.realTime(REAL_TIME.reset);
      const untilMs = this.#clock.now() + withinMs;
      while (this.banner === undefined && this.#clock.now() < untilMs) await this.#clock.sleep(5);
      return this.banner !== undefined;
    } finally {
      this.#expectsBanner = false;
    }
  }

  async close(): Promise<void> {
    const closed = new DriverError('closed', this.#about);
    this.#gone ??= closed;
    this.#fail(closed);
    await this.#wire?.close();
  }

  /** Nothing that could be read: bytes that are no text came instead, or nothing did. */
  #unanswered(question: string, waitedMs: number, oddBefore: number): DriverError {
    if (this.oddBytesHeard > oddBefore) return new DriverError('garbled', { ...this.#about, ...this.seen() });
    return new DriverError('timeout', { ...this.#about, what: `no answer to ${question}`, waitedMs });
  }

  async #send(bytes: Uint8Array): Promise<void> {
    if (this.#gone) throw this.#gone;
    if (!this.#wire) throw new DriverError('disconnected', this.#about);
    await this.#wire.write(bytes);
  }

  #fail(error: Error): void {
    this.#command?.waiting.reject(error);
    this.#status?.reject(error);
    this.#status = undefined;
  }

  #hear(heard: LineHeard): void {
    const reply: Reply = heard.kind === 'text' ? parseReply(heard.text) : { kind: 'unreadable', text: hexOf(heard.bytes) };
    if (reply.kind === 'banner') this.#restarted(reply.text);
    else if (reply.kind === 'alarm') this.#alarmed(reply.code);
    else if (reply.kind === 'status') this.#status?.resolve(reply.report);
    else if (reply.kind === 'unreadable') this.#puzzle();
    else if (this.#command) this.#answer(this.#command, reply);
  }

  #answer(asked: Asked, reply: Reply): void {
    const { waiting, said } = asked;
    if (reply.kind === 'ok') waiting.resolve({ outcome: 'ok', code: 0, said });
    else if (reply.kind === 'error') waiting.resolve({ outcome: 'error', code: reply.code, said });
    else if (said.length < MOST_REPLIES) said.push(reply);
    if (asked.isPuzzled) this.#allowGrace(asked);
  }

  #allowGrace({ waiting, said }: Asked): void {
    waiting.resolveLater(GRACE_MS, { outcome: 'unclear', code: 0, said });
  }

  /** Which question it would have answered cannot be known: the status is asked again at once, the command gets a little more time. */
  #puzzle(): void {
    this.#tally.garbled++;
    if (!this.#status && !this.#command) this.#events.puzzled();
    this.#status?.resolve('unclear');
    if (!this.#command) return;
    this.#command.isPuzzled = true;
    this.#allowGrace(this.#command);
  }

  #restarted(banner: string): void {
    this.banner = banner;
    if (!this.#expectsBanner) {
      this.#tally.restarts++;
      this.#events.restarted(banner);
    }
    // While it is being introduced: it listens from now on, and is asked again.
    if (this.isIntroducing) this.#status?.resolve('unclear');
    else this.#fail(new DriverError('positionLost', { ...this.#about, reason: 'the controller has restarted' }));
  }

  #alarmed(code: number): void {
    this.#tally.alarms++;
    this.#events.alarmed(code);
    if (!this.isIntroducing) this.#fail(alarmError(this.#about, code));
  }
}
