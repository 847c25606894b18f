import type { ClientMessage, ServerMessage } from '../../daemon/server/messages.ts';

/** The part of a browser's WebSocket that is used; tests bring their own. */
export interface SocketLike {
  onopen: (() => void) | null;
  onmessage: ((event: { readonly data: unknown }) => void) | null;
  onclose: (() => void) | null;
  send(text: string): void;
  close(): void;
}

/** Timers of the browser; tests bring their own. */
export interface Timers {
  now(): number;
  after(ms: number, call: () => void): () => void;
}

export type Link =
  | { readonly state: 'connecting' }
  | { readonly state: 'open' }
  /** `heardMs`: when the last message came; `againMs`: when it is tried again. Both on the browser's clock. */
  | { readonly state: 'lost'; readonly heardMs: number; readonly againMs: number };

export interface ConnectionOptions {
  readonly open: () => SocketLike;
  readonly timers: Timers;
  readonly onMessage: (message: ServerMessage) => void;
  readonly onLink: (link: Link) => void;
}

export interface Connection {
  /** Sends when the link is open; false when it is not. */
  send(message: ClientMessage): boolean;
  /** Does not wait for the next try. */
  tryNow(): void;
  close(): void;
}

const FIRST_WAIT_MS = 250;
const LONGEST_WAIT_MS = 5000;
/** With nothing heard for so long the daemon is asked whether it is there, and after as long again the link counts as lost. */
const QUIET_MS = 4000;

/** How long to wait before the n-th try in a row (from 0): doubling, up to 5 s. */
export function waitBeforeTry(failures: number): number {
  return Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** failures);
}

/** Keeps one link to the daemon: opens it, notices when it is gone (also when it merely falls silent), tries again for ever. */
export function connect(options: ConnectionOptions): Connection {
  options.onLink({ state: 'connecting' });
  const keeper = new LinkKeeper(options);
  keeper.begin();
  return keeper;
}

class LinkKeeper implements Connection {
  private socket: SocketLike | null = null;
  private isOpen = false;
  private failures = 0;
  private pings = 0;
  /** Nothing has been heard since the last ping. */
  private unanswered = false;
  private heardMs: number;
  private cancelTimer = (): void => undefined;
  private readonly options: ConnectionOptions;

  constructor(options: ConnectionOptions) {
    this.options = options;
    this.heardMs = options.timers.now();
  }

  begin(): void {
    const socket = this.options.open();
    this.socket = socket;
    socket.onopen = () => this.opened();
    socket.onmessage = (event) => this.heard(event.data);
    socket.onclose = () => this.lost();
  }

  send(message: ClientMessage): boolean {
    if (!this.isOpen || !this.socket) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }

  tryNow(): void {
    if (this.socket) return;
    this.failures = 0;
    this.later(0, () => this.begin());
  }

  close(): void {
    this.cancelTimer();
    this.letGo();
  }

  private opened(): void {
    this.isOpen = true;
    this.failures = 0;
    this.heardMs = this.options.timers.now();
    this.unanswered = false;
    this.watch();
    this.options.onLink({ state: 'open' });
  }

  private heard(data: unknown): void {
    this.heardMs = this.options.timers.now();
    this.unanswered = false;
    // The daemon is our own and of the same build: its messages are not checked again.
    if (typeof data === 'string') this.options.onMessage(JSON.parse(data) as ServerMessage);
  }

  /** Asks after a silence whether the daemon is there; when nothing at all comes back, the link is lost. */
  private watch(): void {
    this.later(QUIET_MS, () => {
      const quiet = this.options.timers.now() - this.heardMs >= QUIET_MS;
      if (quiet && this.unanswered) {
        this.lost();
        return;
      }
      if (quiet) {
        this.pings += 1;
        this.unanswered = true;
        this.send({ type: 'ping', request: `ping ${this.pings}` });
      }
      this.watch();
    });
  }

  private lost(): void {
    this.letGo();
    const wait = waitBeforeTry(this.failures);
    this.failures += 1;
    this.later(wait, () => this.begin());
    this.options.onLink({ state: 'lost', heardMs: this.heardMs, againMs: this.options.timers.now() + wait });
  }

  private letGo(): void {
    const { socket } = this;
    this.socket = null;
    this.isOpen = false;
    if (!socket) return;
    socket.onopen = socket.onmessage = socket.onclose = null;
    socket.close();
  }

  private later(ms: number, call: () => void): void {
    this.cancelTimer();
    this.cancelTimer = this.options.timers.after(ms, call);
  }
}
