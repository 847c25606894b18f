import { DriverError, type Clock, type ErrorDetails } from '../interfaces/index.ts';
import type { Connection } from './connection.ts';
import { hexOf, visible } from './controlCharacters.ts';
import type { CutLine } from './lineCutter.ts';
import { match, patternText, type Pattern } from './pattern.ts';
import type { Step } from './plan.ts';
import type { HeardAs, Listen } from './spoken.ts';

/** A command, and what its answer means to the one who asks. */
export interface Exchange<T> {
  readonly step: Step;
  /** What is sent, without the terminator. */
  readonly text: string;
  /** What an answer says; undefined for a line that is none. Left out where no answer comes. */
  readonly understand?: (line: string) => T | undefined;
  /** Lines that are no answer are passed over (and gathered here), because they may be left from before. */
  readonly passedOver?: string[];
}

export interface Manners {
  readonly clock: Clock;
  readonly device: string;
  readonly echo: boolean;
  readonly listen: Listen;
}

/** What came, for an error's details: readable, and in hex. */
export function seenIn(text: string): ErrorDetails {
  return { seen: visible(text), seenHex: hexOf(text) };
}

function refusalIn(line: string, { errors }: Step, device: string, sent: string): DriverError | undefined {
  for (const pattern of errors) {
    const fields = match(pattern, line);
    if (fields) return new DriverError('deviceError', { device, sent: visible(sent), ...Object.fromEntries(fields), seen: visible(line) });
  }
  return undefined;
}

/** One exchange under way: every line that comes before its time is up is put to `take`. */
class Listening<T> {
  readonly #connection: Connection;
  readonly #exchange: Exchange<T>;
  readonly #manners: Manners;
  readonly #untilMs: number;
  readonly #signal: AbortSignal | undefined;

  constructor(connection: Connection, exchange: Exchange<T>, manners: Manners, signal: AbortSignal | undefined) {
    this.#connection = connection;
    this.#exchange = exchange;
    this.#manners = manners;
    this.#signal = signal;
    this.#untilMs = manners.clock.now() + exchange.step.replyWithinMs;
  }

  /** The first line that is understood. Rejects with `timeout`, `badReply`, `deviceError`, `disconnected`, or the signal's reason. */
  async until<A>(as: HeardAs, expected: string, understand: (line: string) => A | undefined): Promise<A> {
    const { passedOver } = this.#exchange;
    for (;;) {
      const line = await this.#connection.nextLine(this.#untilMs, this.#signal);
      if (!line) throw this.#silence();
      const answer = line.isWhole ? understand(line.text) : undefined;
      const refusal = line.isWhole && !passedOver ? this.#refusal(line.text) : undefined;
      this.#manners.listen({ kind: 'heard', text: line.text, as: refusal ? 'error' : answer === undefined ? 'stray' : as });
      if (refusal) throw refusal;
      if (answer !== undefined) return answer;
      if (!passedOver) throw this.#notUnderstood(line, expected);
      passedOver.push(line.text);
    }
  }

  #refusal(line: string): DriverError | undefined {
    return refusalIn(line, this.#exchange.step, this.#manners.device, this.#exchange.text);
  }

  #silence(): DriverError {
    const { unfinished } = this.#connection;
    const waitedMs = this.#exchange.step.replyWithinMs;
    if (unfinished !== '') this.#exchange.passedOver?.push(unfinished);
    this.#manners.listen(unfinished === '' ? { kind: 'silence', waitedMs } : { kind: 'unfinished', text: unfinished });
    const seen = unfinished === '' ? {} : { what: 'an answer without its end', ...seenIn(unfinished) };
    return new DriverError('timeout', { device: this.#manners.device, sent: visible(this.#exchange.text), waitedMs, ...seen });
  }

  #notUnderstood(line: CutLine, expected: string): DriverError {
    const what = line.isWhole ? {} : { what: 'a line longer than maxReplyCharacters' };
    return new DriverError('badReply', { device: this.#manners.device, sent: visible(this.#exchange.text), expected, ...what, ...seenIn(line.text) });
  }
}

function expectedText(expect: Pattern | undefined): string {
  return expect ? visible(patternText(expect)) : 'one of the answers that the description names';
}

/**
 * Says one thing and hears it out: the echo where there is one, the answer, and what follows it. A refusal by the device is seen before
 * an answer that could be read the same way.
 */
export async function converse<T>(connection: Connection, exchange: Exchange<T>, manners: Manners, signal?: AbortSignal): Promise<T | undefined> {
  const { step, text, understand } = exchange;
  connection.forget();
  manners.listen({ kind: 'sent', text, terminator: step.terminator });
  await connection.send(`${text}${step.terminator}`);
  const listening = new Listening(connection, exchange, manners, signal);
  // A wrong echo means that the device may have understood something else. Bare commands are no lines, and have none.
  if (manners.echo && step.terminator !== '') await listening.until('echo', visible(text), (line) => (line.trimEnd() === text.trimEnd() ? true : undefined));
  if (!understand) return undefined;
  const answer = await listening.until('answer', expectedText(step.expect), understand);
  const { followedBy } = step;
  if (followedBy) await listening.until('answer', expectedText(followedBy), (line) => match(followedBy, line));
  return answer;
}
