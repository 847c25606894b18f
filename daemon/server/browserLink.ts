import type { FeedMessage } from './feed.ts';

/** The part of a websocket that a link needs. */
export interface LinkSocket {
  /** Bytes handed over and not yet taken by the network. */
  readonly bufferedAmount: number;
  send(text: string, taken: (error?: Error | null) => void): void;
  close(code: number, reason: string): void;
}

export interface LinkBounds {
  /** Above this many waiting bytes a browser counts as slow and is sent nothing more. */
  readonly slowAboveBytes: number;
  /** A slow browser is caught up when no more than this many bytes wait. */
  readonly drainedBelowBytes: number;
  /** Answers kept for a slow browser; with more it is let go. */
  readonly keptAnswers: number;
}

export const LINK_BOUNDS: LinkBounds = { slowAboveBytes: 4 * 1024 * 1024, drainedBelowBytes: 64 * 1024, keptAnswers: 16 };

/** A message as text without its number, so that many browsers share one encoding. Joined with a number by {@link numbered}. */
export type EncodedMessage = string & { readonly encoded: true };

export function encode(message: FeedMessage): EncodedMessage {
  return JSON.stringify(message) as EncodedMessage;
}

/** The whole message: `seq` first, then what was encoded. */
export function numbered(seq: number, encoded: EncodedMessage): string {
  return `{"seq":${seq},${encoded.slice(1)}`;
}

/**
 * One browser's own numbered stream. It never waits and never keeps more than its bounds: a browser that does not read is sent
 * nothing at all until it has, and then the night as it stands. Nothing is lost by that, since a snapshot holds everything. A long
 * night's snapshot goes in pieces, each when the one before has been taken, with changes of the night in between.
 */
export class BrowserLink {
  private seq = 0;
  private slow = false;
  private missed = false;
  private readonly answers: EncodedMessage[] = [];
  private readonly socket: LinkSocket;
  private readonly catchUp: () => Iterable<EncodedMessage>;
  /** The pieces of a snapshot that are still to be sent. */
  private pieces: Iterator<EncodedMessage> | undefined;
  private readonly bounds: LinkBounds;

  /** `catchUp` gives what a browser needs that has missed something: a snapshot, and what a snapshot does not hold, each made when it is asked for. */
  constructor(socket: LinkSocket, catchUp: () => Iterable<EncodedMessage>, bounds: LinkBounds = LINK_BOUNDS) {
    this.socket = socket;
    this.catchUp = catchUp;
    this.bounds = bounds;
  }

  /** True while the browser is behind and is sent nothing. */
  get isSlow(): boolean {
    return this.slow;
  }

  /** Sends a change of the night; a slow browser is passed over, for its snapshot will hold it. */
  tell(message: EncodedMessage): void {
    if (this.slow) this.missed = true;
    else this.put(message);
  }

  /** Sends what this browser asked for: kept, within bounds, while it is slow. */
  answer(message: EncodedMessage): void {
    if (!this.slow) {
      this.put(message);
    } else if (this.answers.length < this.bounds.keptAnswers) {
      this.answers.push(message);
    } else {
      this.socket.close(1013, 'asks and does not read');
    }
  }

  /** Sends the night as it stands; to a slow browser as soon as it has read what it has. */
  sendSnapshot(): void {
    this.missed = this.slow;
    if (this.slow) return;
    this.pieces = this.catchUp()[Symbol.iterator]();
    this.putPiece();
  }

  private putPiece(): void {
    const next = this.pieces?.next();
    if (next && next.done !== true) this.put(next.value);
    else this.pieces = undefined;
  }

  private put(message: EncodedMessage): void {
    this.seq += 1;
    this.socket.send(numbered(this.seq, message), (error) => {
      if (!error) this.drained();
    });
    if (this.socket.bufferedAmount > this.bounds.slowAboveBytes) this.slow = true;
  }

  private drained(): void {
    if (this.socket.bufferedAmount > this.bounds.drainedBelowBytes) return;
    if (this.slow) this.caughtUp();
    else this.putPiece();
  }

  private caughtUp(): void {
    this.slow = false;
    const kept = this.answers.splice(0);
    // A snapshot alone can be above the bound: without a look at what was missed it would be sent for ever.
    if (this.missed) this.sendSnapshot();
    else this.putPiece();
    for (const message of kept) this.answer(message);
  }
}
