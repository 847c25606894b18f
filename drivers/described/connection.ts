import { DriverError, type Clock } from '../interfaces/index.ts';
import type { OpenWire, Wire } from '../line/wire.ts';
import { LineCutter, type CutLine } from './lineCutter.ts';

/** Lines that nobody has asked for are dropped from the front when so many wait. */
const MOST_LINES = 64;
/** However much a device babbles, waiting for its silence ends. */
const LONGEST_DRAIN = 10;

export interface ConnectionOptions {
  readonly openWire: OpenWire;
  readonly clock: Clock;
  readonly replyTerminator: string;
  readonly maxReplyCharacters: number;
  /** Looks at each line as it comes; true when it was unsolicited, and is nobody's answer. */
  readonly isUnsolicited: (line: CutLine) => boolean;
}

/** An open line with what has come in on it, in whole lines. */
export class Connection {
  #wire: Wire | undefined;
  #lost: DriverError | undefined;
  #wake: AbortController | undefined;
  #lines: CutLine[] = [];
  readonly #clock: Clock;
  readonly #cutter: LineCutter;
  readonly #isUnsolicited: ConnectionOptions['isUnsolicited'];

  private constructor({ clock, replyTerminator, maxReplyCharacters, isUnsolicited }: ConnectionOptions) {
    this.#clock = clock;
    this.#cutter = new LineCutter(replyTerminator, maxReplyCharacters);
    this.#isUnsolicited = isUnsolicited;
  }

  /** Rejects as the wire's opener does. */
  static async open(options: ConnectionOptions): Promise<Connection> {
    const connection = new Connection(options);
    connection.#wire = await options.openWire({
      received: (bytes) => connection.#received(bytes),
      lost: (error) => {
        connection.#lost = error;
        connection.#wake?.abort();
      },
    });
    return connection;
  }

  get name(): string {
    return this.#wire?.name ?? '';
  }

  get isOpen(): boolean {
    return this.#lost === undefined && (this.#wire?.isOpen ?? false);
  }

  /** What has come since the last end of a line. */
  get unfinished(): string {
    return this.#cutter.unfinished;
  }

  /** Throws away what has come in, so that the next line is an answer to what is sent next. */
  forget(): void {
    this.#lines = [];
    this.#cutter.clear();
  }

  /** Rejects with `disconnected` or `timeout`. */
  async send(text: string): Promise<void> {
    if (this.#lost) throw this.#lost;
    if (!this.#wire) throw new DriverError('disconnected', {});
    await this.#wire.write(Buffer.from(text, 'latin1'));
  }

  /** The next line; undefined when none has come by then. Rejects with `disconnected`, or with the signal's reason when aborted. */
  async nextLine(untilMs: number, signal?: AbortSignal): Promise<CutLine | undefined> {
    for (;;) {
      if (signal?.aborted) throw signal.reason as Error;
      const line = this.#lines.shift();
      if (line) return line;
      if (this.#lost) throw this.#lost;
      const leftMs = untilMs - this.#clock.now();
      if (leftMs <= 0) return undefined;
      await this.#pause(leftMs, signal);
    }
  }

  /** Waits until nothing has come for a while, and throws away what came: a late answer is nobody's. */
  async drain(quietMs: number): Promise<void> {
    const endMs = this.#clock.now() + LONGEST_DRAIN * quietMs;
    let before = '';
    while (this.isOpen && this.#clock.now() < endMs) {
      const line = await this.nextLine(Math.min(endMs, this.#clock.now() + quietMs));
      if (!line && this.unfinished === before) break;
      before = this.unfinished;
    }
    this.forget();
  }

  async close(): Promise<void> {
    await this.#wire?.close();
  }

  #received(bytes: Uint8Array): void {
    for (const line of this.#cutter.push(bytes)) {
      if (this.#isUnsolicited(line)) continue;
      this.#lines.push(line);
      if (this.#lines.length > MOST_LINES) this.#lines.shift();
    }
    if (this.#lines.length > 0) this.#wake?.abort();
  }

  async #pause(ms: number, signal: AbortSignal | undefined): Promise<void> {
    const wake = new AbortController();
    const onAbort = (): void => wake.abort();
    signal?.addEventListener('abort', onAbort, { once: true });
    this.#wake = wake;
    try {
      await this.#clock.sleep(ms, wake.signal);
    } catch (error) {
      if (!wake.signal.aborted) throw error;
    } finally {
      this.#wake = undefined;
      signal?.removeEventListener('abort', onAbort);
    }
  }
}
