import type { WebSocket } from 'ws';
import { BrowserLink, encode, LINK_BOUNDS } from './browserLink.ts';
import type { EncodedMessage, LinkBounds } from './browserLink.ts';
import type { FeedMessage, NightControls, NightFeed } from './feed.ts';
import type { ServerLog } from './log.ts';
import { BrowserRequests } from './requests.ts';

export interface HubOptions {
  readonly feed: NightFeed;
  readonly controls: NightControls;
  readonly log: ServerLog;
  readonly bounds?: LinkBounds;
}

/** Every open browser: each change of the night goes to all of them, each through its own link. */
export class Hub {
  private readonly links = new Map<WebSocket, BrowserLink>();
  private lastLive: EncodedMessage | undefined;
  private readonly leave: () => void;
  private readonly options: HubOptions;

  constructor(options: HubOptions) {
    this.options = options;
    this.leave = options.feed.subscribe((message) => this.broadcast(message));
  }

  get size(): number {
    return this.links.size;
  }

  /** Takes a browser in: a snapshot first, then every change. */
  add(socket: WebSocket): void {
    const { controls, log, bounds } = this.options;
    const link = new BrowserLink(socket, () => this.catchUp(), bounds ?? LINK_BOUNDS);
    const requests = new BrowserRequests({ link, controls, log, close: (code, reason) => socket.close(code, reason) });
    this.links.set(socket, link);
    // Binary messages are never sent by the page: taken as empty, they are refused.
    socket.on('message', (data, isBinary) => void requests.take(!isBinary && Buffer.isBuffer(data) ? data.toString('utf8') : ''));
    socket.on('error', (error) => log.info({ error: error.message }, 'a browser was let go'));
    socket.on('close', () => this.links.delete(socket));
    link.sendSnapshot();
  }

  /** Ends all links at once and listens no more. */
  close(): void {
    this.leave();
    for (const socket of this.links.keys()) socket.terminate();
    this.links.clear();
  }

  private broadcast(message: FeedMessage): void {
    if (message.type === 'snapshot') {
      for (const link of this.links.values()) link.sendSnapshot();
      return;
    }
    const encoded = encode(message);
    if (message.type === 'live') this.lastLive = encoded;
    for (const link of this.links.values()) link.tell(encoded);
  }

  private *catchUp(): Generator<EncodedMessage> {
    const { feed } = this.options;
    yield encode({ type: 'snapshot', ...feed.snapshot() });
    if (this.lastLive !== undefined) yield this.lastLive;
    for (const message of feed.rest()) yield encode(message);
  }
}
