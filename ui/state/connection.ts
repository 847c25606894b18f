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
export function connect({ open, timers, onMessage, onLink }: ConnectionOptions): Connection {
  let socket: SocketLike | null = null;
  let isOpen = false;
  let failures = 0;
  let pings = 0;
  let heardMs = timers.now();
  let cancelTimer = (): void => undefined;

  const later = (ms: number, call: () => void): void => {
    cancelTimer();
    cancelTimer = timers.after(ms, call);
  };

  const lose = (): void => {
    const gone = socket;
    socket = null;
    isOpen = false;
    if (gone) {
      gone.onopen = gone.onmessage = gone.onclose = null;
      gone.close();
    }
    const wait = waitBeforeTry(failures);
    failures += 1;
    later(wait, begin);
    onLink({ state: 'lost', heardMs, againMs: timers.now() + wait });
  };

  const watch = (asked: boolean): void =>
    later(QUIET_MS, () => {
      if (timers.now() - heardMs < QUIET_MS) return watch(false);
      if (asked) return lose();
      pings += 1;
      socket?.send(JSON.stringify({ type: 'ping', request: `ping ${pings}` } satisfies ClientMessage));
      watch(true);
    });

  const heard = (data: unknown): void => {
    heardMs = timers.now();
    if (typeof data === 'string') onMessage(JSON.parse(data) as ServerMessage);
  };

  function begin(): void {
    const fresh = open();
    socket = fresh;
    fresh.onopen = () => {
      isOpen = true;
      failures = 0;
      heardMs = timers.now();
      watch(false);
      onLink({ state: 'open' });
    };
    fresh.onmessage = (event) => heard(event.data);
    fresh.onclose = lose;
  }

  onLink({ state: 'connecting' });
  begin();
  return {
    send(message) {
      if (!isOpen || !socket) return false;
      socket.send(JSON.stringify(message));
      return true;
    },
    tryNow() {
      if (isOpen || socket) return;
      failures = 0;
      later(0, begin);
    },
    close() {
      cancelTimer();
      if (socket) socket.onclose = socket.onmessage = socket.onopen = null;
      socket?.close();
      socket = null;
    },
  };
}
