import type { Clock } from '../../../drivers/interfaces/index.ts';

/** The far end's side of a line. */
export interface FarLink {
  send(bytes: Uint8Array): void;
  /** Ends the connection, as a pulled plug does. */
  hangUp(): void;
}

/** What a line tells the far end. */
export interface FarEar {
  received(bytes: Uint8Array): void;
  gone(): void;
}

/** Something that can be put at the other end of a line. */
export interface FarEnd {
  connected(link: FarLink): FarEar;
}

interface Faults {
  mute: number;
  garble: number;
  refuse: number;
  flipDigit: number;
  slow: number;
  slowMs: number;
}

/**
 * A controller that reads commands and answers in lines, with faults as named switches. What it says is up to its kind. It talks to any
 * number of lines, and answers on the one that asked.
 */
export abstract class AsciiFarEnd implements FarEnd {
  /** Everything that was received since it was made, command by command. */
  readonly commands: string[] = [];
  protected readonly clock: Clock;
  #mutedCommands = '';
  readonly #commandEnd: string;
  readonly #replyEnd: string;
  readonly #links = new Set<FarLink>();
  readonly #faults: Faults = { mute: 0, garble: 0, refuse: 0, flipDigit: 0, slow: 0, slowMs: 0 };

  constructor(clock: Clock, commandEnd: string, replyEnd: string) {
    this.clock = clock;
    this.#commandEnd = commandEnd;
    this.#replyEnd = replyEnd;
  }

  /** The lines with which a command is answered; it may be none. */
  protected abstract answer(command: string): readonly string[];
  /** What is said instead when it refuses without a reason. */
  protected abstract refusal(command: string): readonly string[];
  /** Everything that is forgotten when the power goes. */
  protected abstract forget(): void;
  /** Single characters that count as commands without an end. */
  protected bare(_character: string): readonly string[] | undefined {
    return undefined;
  }

  /** The next answers (to commands that begin like this) never come, though the commands are obeyed. */
  mute(times = Number.POSITIVE_INFINITY, commands = ''): void {
    this.#faults.mute = times;
    this.#mutedCommands = commands;
  }

  /** The next answers arrive with one bit too many in the middle, as noise makes them. */
  garble(times = 1): void {
    this.#faults.garble = times;
  }

  /** The next answers arrive with another last digit: nothing on the line shows it. */
  flipDigit(times = 1): void {
    this.#faults.flipDigit = times;
  }

  /** The next commands are refused by an error of its own, and not obeyed. */
  refuse(times = 1): void {
    this.#faults.refuse = times;
  }

  /** The next answers come this much later. */
  slow(ms: number, times = 1): void {
    this.#faults.slow = times;
    this.#faults.slowMs = ms;
  }

  /** Every connection ends; it goes on with what it does. */
  hangUp(): void {
    for (const link of [...this.#links]) link.hangUp();
  }

  /** Everything is forgotten; lines that need no connection stay as they are. */
  powerCycle(greeting?: string): void {
    this.forget();
    if (greeting !== undefined) this.say(greeting);
  }

  /** Says a line that nobody asked for, on every connection. */
  say(line: string): void {
    for (const link of this.#links) this.#send(link, line);
  }

  /** Sends bytes as they are. */
  sayBytes(bytes: Uint8Array): void {
    for (const link of this.#links) link.send(bytes);
  }

  connected(link: FarLink): FarEar {
    this.#links.add(link);
    let held = '';
    return {
      received: (bytes) => {
        for (const byte of bytes) {
          held += String.fromCharCode(byte);
          const bare = held.length === 1 ? this.bare(held) : undefined;
          if (bare) {
            this.commands.push(held);
            held = '';
            this.#reply(link, bare, '');
          } else if (held.endsWith(this.#commandEnd)) {
            const command = held.slice(0, -this.#commandEnd.length);
            held = '';
            this.#obey(link, command);
          }
        }
      },
      gone: () => this.#links.delete(link),
    };
  }

  #obey(link: FarLink, command: string): void {
    this.commands.push(command);
    this.#reply(link, this.#strikes('refuse') ? this.refusal(command) : this.answer(command), command);
  }

  #reply(link: FarLink, lines: readonly string[], command: string): void {
    if (lines.length === 0 || (command.startsWith(this.#mutedCommands) && this.#strikes('mute'))) return;
    const spoilt = lines.map((line) => this.#spoil(line));
    if (!this.#strikes('slow')) {
      for (const line of spoilt) this.#send(link, line);
      return;
    }
    void this.clock.sleep(this.#faults.slowMs).then(() => spoilt.forEach((line) => this.#send(link, line)));
  }

  #spoil(line: string): string {
    if (this.#strikes('garble')) {
      const middle = Math.floor(line.length / 2);
      return line.slice(0, middle) + String.fromCharCode(line.charCodeAt(middle) | 0x80) + line.slice(middle + 1);
    }
    if (/\d$/.test(line) && this.#strikes('flipDigit')) return line.slice(0, -1) + String((Number(line.slice(-1)) + 5) % 10);
    return line;
  }

  #send(link: FarLink, line: string): void {
    link.send(Uint8Array.from(`${line}${this.#replyEnd}`, (character) => character.charCodeAt(0)));
  }

  #strikes(fault: Exclude<keyof Faults, 'slowMs'>): boolean {
    if (this.#faults[fault] <= 0) return false;
    this.#faults[fault]--;
    return true;
  }
}
