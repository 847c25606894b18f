import { createServer } from 'node:http';
import type { IncomingMessage, Server } from 'node:http';
import type { Duplex } from 'node:stream';
import { WebSocketServer } from 'ws';
import { NightjarError } from '../errors/index.ts';
import type { LinkBounds } from './browserLink.ts';
import { hostAndPort, isLoopback, originIsOurs } from './doors.ts';
import type { NightControls, NightFeed, NightPictures } from './feed.ts';
import { Hub } from './hub.ts';
import type { ServerLog } from './log.ts';
import { answerPage } from './pages.ts';

/** A request of the page is a few hundred bytes; anything longer is a mistake or worse. */
const MAX_MESSAGE_BYTES = 16 * 1024;
const MAX_BROWSERS = 16;
/** Open connections of all kinds: a browser opens six for pictures beside its websocket. */
const MAX_CONNECTIONS = 256;
/** The one path where a websocket is opened. */
export const WEBSOCKET_PATH = '/night';

export interface ServerOptions {
  /** Loopback only; 127.0.0.1 when left out. */
  readonly host?: string;
  /** 0 takes a free port. */
  readonly port: number;
  readonly feed: NightFeed;
  readonly controls: NightControls;
  readonly pictures: NightPictures;
  /** Folder of the built page. */
  readonly uiDirectory: string;
  readonly log: ServerLog;
  /** When a browser counts as slow; for tests. */
  readonly bounds?: LinkBounds;
}

export interface RunningServer {
  /** Address of the page, to be printed. */
  readonly url: string;
  readonly port: number;
  close(): Promise<void>;
}

function listen(server: Server, host: string, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => reject(error.code === 'EADDRINUSE' ? new NightjarError('portInUse', { port }) : error));
    server.listen(port, host, () => {
      server.removeAllListeners('error');
      const address = server.address();
      resolve(typeof address === 'object' && address !== null ? address.port : port);
    });
  });
}

function refuseUpgrade(socket: Duplex, status: string): void {
  socket.end(`HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`);
}

/** Why a websocket may not be opened, as an HTTP status; `undefined` when it may. */
function upgradeRefusal(request: IncomingMessage, port: number, open: number): string | undefined {
  if (!originIsOurs(request, port)) return '403 Forbidden';
  if (request.url !== WEBSOCKET_PATH) return '404 Not Found';
  return open >= MAX_BROWSERS ? '503 Service Unavailable' : undefined;
}

function acceptBrowsers(server: Server, hub: Hub, log: ServerLog, port: () => number): void {
  const sockets = new WebSocketServer({ noServer: true, maxPayload: MAX_MESSAGE_BYTES, perMessageDeflate: false });
  server.on('upgrade', (request, socket, head) => {
    socket.on('error', (error) => log.info({ error: error.message }, 'a connection broke'));
    const refusal = upgradeRefusal(request, port(), hub.size);
    if (refusal === undefined) {
      sockets.handleUpgrade(request, socket, head, (browser) => hub.add(browser));
      return;
    }
    log.warn({ refusal, origin: request.headers.origin ?? 'none', host: request.headers.host ?? 'none' }, 'a websocket was refused');
    refuseUpgrade(socket, refusal);
  });
}

/**
 * Opens the page and its websocket on this computer only. Rejects with `badUsage` when `host` is not a loopback address and with
 * `portInUse` when the port is taken. The night never waits for it: see browserLink.ts.
 */
export async function startServer(options: ServerOptions): Promise<RunningServer> {
  const { host = '127.0.0.1', feed, controls, pictures, uiDirectory, log, bounds } = options;
  if (!isLoopback(host)) throw new NightjarError('badUsage', { reason: `the page is for this computer only, and ${host} can be reached from others: use 127.0.0.1` });
  let port = options.port;
  const pages = { uiDirectory, pictures, log, port: () => port };
  const server = createServer((request, response) => void answerPage(request, response, pages));
  server.maxConnections = MAX_CONNECTIONS;
  port = await listen(server, host, options.port);
  server.on('error', (error) => log.warn({ error: error.message }, 'the server stumbled'));
  const hub = new Hub({ feed, controls, log, ...(bounds ? { bounds } : {}) });
  acceptBrowsers(server, hub, log, pages.port);
  const close = async (): Promise<void> => {
    hub.close();
    const closed = new Promise<void>((resolve) => server.close(() => resolve()));
    server.closeAllConnections();
    await closed;
  };
  return { url: `http://${hostAndPort(host, port)}/`, port, close };
}
