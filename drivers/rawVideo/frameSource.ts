import { DriverError, type Clock, type ErrorDetails } from '../interfaces/index.ts';
import { AwaitedFrame, type FrameWish } from './awaitedFrame.ts';
import { VideoCommand } from './videoCommand.ts';

/** A camera needs its time to wake up when the command opens it. */
const START_LIMIT_MS = 15_000;
/** Pauses before a command that ended is started again: none at first, then doubled from the one to the other. */
const FIRST_PAUSE_MS = 250;
const LONGEST_PAUSE_MS = 8000;
/** A frame can be asked for while another is waited for; more than these few is a mistake of the caller. */
const WAITING_MAX = 4;

export interface FrameSourceParts {
  readonly command: readonly string[];
  readonly frameBytes: number;
  /** A running command that gives no frame for so long has none. */
  readonly patienceMs: number;
  readonly clock: Clock;
}

/** Frames of a command, which is started when one is asked for and started anew when it has ended. */
export class FrameSource {
  readonly #parts: FrameSourceParts;
  readonly #waiting = new Set<AwaitedFrame>();
  readonly #closing = new AbortController();
  #command: VideoCommand | undefined;
  /** Starts since the last frame. */
  #starts = 0;

  constructor(parts: FrameSourceParts) {
    this.#parts = parts;
  }

  /**
   * A frame that arrives whole after the call, as wished. Rejects with `pipeEnded` when the command ends or cannot be started, `noFrame`
   * when it gives none, `stopped`, `closed`. After either of the first two the next call starts the command anew.
   */
  async next(wish: Omit<FrameWish, 'askedAtMs'>, signal?: AbortSignal): Promise<Uint8Array> {
    if (this.#waiting.size >= WAITING_MAX) throw new DriverError('unsupported', { device: 'camera', waiting: WAITING_MAX });
    const over = new AbortController();
    const leave = (code: 'stopped' | 'closed') => () => over.abort(new DriverError(code, { device: 'camera' }));
    const [onStop, onClose] = [leave('stopped'), leave('closed')];
    signal?.addEventListener('abort', onStop, { once: true });
    this.#closing.signal.addEventListener('abort', onClose, { once: true });
    try {
      return await this.#awaitFrame(wish, over);
    } finally {
      over.abort();
      signal?.removeEventListener('abort', onStop);
      this.#closing.signal.removeEventListener('abort', onClose);
    }
  }

  /** Starts a command that has ended, and waits for its first frame; does nothing while it runs. Rejects as `next` does. */
  async revive(): Promise<void> {
    if (!this.#command || this.#command.hasEnded) await this.next({ exposureMs: 0, discardFrames: 0 });
  }

  /** Ends the command and every wait. */
  async close(): Promise<void> {
    this.#closing.abort();
    await this.#command?.end();
  }

  async #awaitFrame(wish: Omit<FrameWish, 'askedAtMs'>, over: AbortController): Promise<Uint8Array> {
    const { clock, patienceMs } = this.#parts;
    const isFresh = await this.#running(over.signal);
    const awaited = new AwaitedFrame({ ...wish, askedAtMs: clock.now() });
    this.#waiting.add(awaited);
    try {
      const limitMs = patienceMs + (isFresh ? START_LIMIT_MS : 0);
      const waited = clock.sleep(limitMs, over.signal);
      return await Promise.race([awaited.frame, waited.then(() => this.#giveUp(limitMs))]);
    } finally {
      this.#waiting.delete(awaited);
    }
  }

  /** Sees to it that the command runs; tells whether it has yet to give its first frame. */
  async #running(signal: AbortSignal): Promise<boolean> {
    signal.throwIfAborted();
    if (this.#command && !this.#command.hasEnded) return this.#starts > 0;
    if (this.#starts > 0) await this.#parts.clock.sleep(Math.min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 2 ** (this.#starts - 1)), signal);
    // Another caller may have started it in the meantime.
    if (!this.#command || this.#command.hasEnded) this.#start();
    return true;
  }

  #start(): void {
    this.#starts++;
    const { command, frameBytes, clock } = this.#parts;
    try {
      const started: VideoCommand = new VideoCommand({ command, frameBytes, clock, whole: (frame) => this.#offer(frame), ended: () => this.#ended(started) });
      this.#command = started;
    } catch (error) {
      // An argument that the operating system does not take at all.
      throw new DriverError('pipeEnded', { device: 'camera', command: command[0] ?? '', problem: error instanceof Error ? error.message : String(error) }, { cause: error });
    }
  }

  /** Who has waited longest and is ready gets the frame; nobody else may hold the same bytes. */
  #offer(frame: Uint8Array): boolean {
    this.#starts = 0;
    const nowMs = this.#parts.clock.now();
    let isTaken = false;
    for (const awaited of this.#waiting) {
      if (!awaited.offer(frame, nowMs)) continue;
      this.#waiting.delete(awaited);
      isTaken = true;
      break;
    }
    return isTaken;
  }

  #ended(command: VideoCommand): void {
    if (command !== this.#command) return;
    for (const awaited of this.#waiting) awaited.fail(command.endedError());
    this.#waiting.clear();
  }

  /** A command that hangs is ended, so that the next call finds a new one, in step with its frames. */
  async #giveUp(waitedMs: number): Promise<never> {
    const details: ErrorDetails = { ...this.#command?.silence(), wantedBytes: this.#parts.frameBytes, waitedMs };
    const command = this.#command;
    this.#command = undefined;
    await command?.end();
    throw new DriverError('noFrame', details);
  }
}
