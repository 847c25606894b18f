import type { WebSocket } from 'ws';
import { BrowserLink, encode, LINK_BOUNDS } from './browserLink.ts';
import type { EncodedMessage, LinkBounds } from './browserLink.ts';
import { ControlsDesk } from './controlsDesk.ts';
import type { Seat } from './controlsDesk.ts';
import type { FeedMessage, NightControls, NightFeed } from './feed.ts';
import type { ServerLog } from './log.ts';
import { BrowserRequests } from './requests.ts';
import type { Secrets } from './secrets.ts';
import type { SessionKey } from './sessions.ts';

/** A browser that answers no ping for so long is gone: a line that was cut says nothing by itself. */
const SILENT_MS = 45_000;
const PING_EVERY_MS = 20_000;
/** The session behind a websocket has ended: the page asks for the token again (a code of ours, from the range for private use). */
const SESSION_ENDED = 4401;

export interface HubOptions {
  readonly feed: NightFeed;
  readonly controls: NightControls;
  readonly log: ServerLog;
  readonly secrets: Secrets;
  readonly bounds?: LinkBounds;
  readonly now: () => number;
  /** Whether a session is still open; left out where none is needed. */
  isIn?(session: SessionKey): boolean;
}

/** Who a browser is to the server. */
export interface Visitor {
  /** In words, for those who give no name. */
  readonly where: string;
  readonly session: SessionKey | undefined;
}

interface Guest {
  readonly link: BrowserLink;
  readonly seat: Seat;
  readonly session: SessionKey | undefined;
  heardMs: number;
  pingedMs: number;
}

/** Every open browser: each change of the night goes to all of them, each through its own link; and who of them has the controls. */
export class Hub {
  private readonly guests = new Map<WebSocket, Guest>();
  private readonly desk: ControlsDesk;
  private lastLive: EncodedMessage | undefined;
  private readonly leave: () => void;
  private readonly options: HubOptions;

  constructor(options: HubOptions) {
    this.options = options;
    const { secrets, log } = options;
    this.desk = new ControlsDesk({ secrets, log, now: () => options.now(), changed: () => this.tellControls() });
    this.leave = options.feed.subscribe((message) => this.broadcast(message));
  }

  get size(): number {
    return this.guests.size;
  }

  /** Takes a browser in: a snapshot first, then every change. */
  add(socket: WebSocket, { where, session }: Visitor): void {
    const { log, bounds, controls, now } = this.options;
    const seat = this.desk.sit(where);
    const link = new BrowserLink(socket, () => this.catchUp(seat), bounds ?? LINK_BOUNDS);
    const nowMs = now();
    const guest: Guest = { link, seat, session, heardMs: nowMs, pingedMs: nowMs };
    const requests = new BrowserRequests({ link, controls, log, desk: this.desk, seat, now, close: (code, reason) => socket.close(code, reason) });
    this.guests.set(socket, guest);
    socket.on('message', (data, isBinary) => {
      guest.heardMs = now();
      // A session that has ended since the last look may not do one thing more.
      if (!this.isStillIn(guest)) return socket.close(SESSION_ENDED, 'the session has ended');
      // Binary messages are never sent by the page: taken as empty, they are refused.
      void requests.take(!isBinary && Buffer.isBuffer(data) ? data.toString('utf8') : '');
    });
    socket.on('pong', () => (guest.heardMs = now()));
    socket.on('error', (error) => log.info({ error: error.message }, 'a browser was let go'));
    socket.on('close', () => this.remove(socket));
    link.sendSnapshot();
  }

  /** To be called every second or so: looks after the controls, ended sessions, and lines that are cut. */
  beat(): void {
    this.desk.tick();
    const nowMs = this.options.now();
    for (const [socket, guest] of this.guests) {
      if (!this.isStillIn(guest)) socket.close(SESSION_ENDED, 'the session has ended');
      else if (nowMs - guest.heardMs >= SILENT_MS) socket.terminate();
      else if (nowMs - guest.pingedMs >= PING_EVERY_MS) {
        guest.pingedMs = nowMs;
        socket.ping();
      }
    }
  }

  /** Ends all links at once and listens no more. */
  close(): void {
    this.leave();
    for (const socket of this.guests.keys()) socket.terminate();
    this.guests.clear();
  }

  private isStillIn({ session }: Guest): boolean {
    return session === undefined || (this.options.isIn?.(session) ?? true);
  }

  private remove(socket: WebSocket): void {
    const guest = this.guests.get(socket);
    this.guests.delete(socket);
    if (guest) this.desk.leave(guest.seat);
  }

  private broadcast(message: FeedMessage): void {
    if (message.type === 'snapshot') {
      for (const { link } of this.guests.values()) link.sendSnapshot();
      return;
    }
    const encoded = encode(message);
    if (message.type === 'live') this.lastLive = encoded;
    for (const { link } of this.guests.values()) link.tell(encoded);
  }

  private controlsFor(seat: Seat): EncodedMessage {
    return encode({ type: 'controls', controls: this.desk.viewFor(seat) });
  }

  private tellControls(): void {
    for (const { link, seat } of this.guests.values()) link.tell(this.controlsFor(seat));
  }

  private *catchUp(seat: Seat): Generator<EncodedMessage> {
    const { feed } = this.options;
    yield encode({ type: 'snapshot', ...feed.snapshot() });
    yield this.controlsFor(seat);
    if (this.lastLive !== undefined) yield this.lastLive;
    for (const message of feed.rest()) yield encode(message);
  }
}
