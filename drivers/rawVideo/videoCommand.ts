import { spawn, type ChildProcess } from 'node:child_process';
import { DriverError, type Clock, type ErrorDetails } from '../interfaces/index.ts';
import { FrameCutter } from './frameCutter.ts';
import { LastWords } from './lastWords.ts';

/** A command that is asked to end has so long for it, twice: then it is made to, and then it is given up. */
const END_LIMIT_MS = 2000;

export interface VideoCommandParts {
  /** Program and arguments: no shell reads them, so that nothing in them is more than it says. */
  readonly command: readonly string[];
  readonly frameBytes: number;
  readonly clock: Clock;
  /** Told each whole frame as it arrives; says true when it keeps the bytes. */
  readonly whole: (frame: Uint8Array) => boolean;
  /** Told once, when the command has ended and all that it wrote was read. */
  readonly ended: () => void;
}

/** One running command: its frames are read as fast as it writes them, wanted or not. */
export class VideoCommand {
  readonly #clock: Clock;
  readonly #name: string;
  readonly #child: ChildProcess;
  readonly #cutter: FrameCutter;
  readonly #words = new LastWords();
  readonly #closed: Promise<void>;
  #seenBytes = 0;
  #problem: string | undefined;
  #hasEnded = false;

  /** Starts the command; where it cannot be started, `ended` is told. */
  constructor({ command, frameBytes, clock, whole, ended }: VideoCommandParts) {
    const [program = '', ...programArguments] = command;
    this.#clock = clock;
    this.#name = program;
    this.#cutter = new FrameCutter(frameBytes, whole);
    // A group of its own: whatever the command starts ends with it, and Ctrl-C for Nightjar does not take the camera away first.
    this.#child = spawn(program, programArguments, { stdio: ['ignore', 'pipe', 'pipe'], detached: true });
    this.#child.stdout?.on('data', (bytes: Uint8Array) => {
      this.#seenBytes += bytes.length;
      this.#cutter.push(bytes);
    });
    this.#child.stderr?.on('data', (bytes: Uint8Array) => this.#words.hear(bytes));
    this.#child.on('error', (error) => (this.#problem ??= error.message));
    // Not 'exit': frames and words may still be in the pipes then.
    this.#closed = new Promise((resolve) => {
      this.#child.once('close', () => {
        this.#hasEnded = true;
        resolve();
        ended();
      });
    });
  }

  get hasEnded(): boolean {
    return this.#hasEnded;
  }

  /** Why there are no frames any more. A part of a frame left over is the mark of a size or format that is not the command's. */
  endedError(): DriverError {
    const { exitCode, signalCode } = this.#child;
    return new DriverError('pipeEnded', {
      ...this.#said(),
      ...(this.#problem === undefined && exitCode !== null ? { exitCode } : {}),
      ...(signalCode ? { signal: signalCode } : {}),
      ...(this.#problem === undefined ? {} : { problem: this.#problem }),
      ...(this.#cutter.begunBytes > 0 ? { leftOverBytes: this.#cutter.begunBytes } : {}),
    });
  }

  /** What was seen of a command that runs and gives no frame. */
  silence(): ErrorDetails {
    return { ...this.#said(), seenBytes: this.#seenBytes };
  }

  /** Ends the command and what it has started; resolves when it is gone, or after a few seconds. More than once does no harm. */
  async end(): Promise<void> {
    for (const signal of ['SIGTERM', 'SIGKILL'] as const) {
      if (this.#hasEnded) return;
      this.#signalGroup(signal);
      await this.#closedWithin(END_LIMIT_MS);
    }
    // Somebody who left the group still holds the pipes: they are let go of on this side.
    if (this.#hasEnded) return;
    this.#child.stdout?.destroy();
    this.#child.stderr?.destroy();
  }

  #said(): ErrorDetails {
    return { device: 'camera', command: this.#name, ...(this.#words.text === '' ? {} : { said: this.#words.text }) };
  }

  #signalGroup(signal: 'SIGTERM' | 'SIGKILL'): void {
    if (this.#child.pid === undefined) return;
    try {
      process.kill(-this.#child.pid, signal);
    } catch {
      // The group is gone already: that is what was wanted.
    }
  }

  async #closedWithin(limitMs: number): Promise<void> {
    const done = new AbortController();
    await Promise.race([this.#closed, this.#clock.sleep(limitMs, done.signal).catch(() => undefined)]);
    done.abort();
  }
}
