import type { IncomingMessage, Server } from 'node:http';
import type { Duplex } from 'node:stream';
import { WebSocketServer } from 'ws';
import { isOwnComputer, plainAddress } from './addresses.ts';
import { sessionIdIn } from './cookies.ts';
import type { Door } from './door.ts';
import { originIsOurs } from './doors.ts';
import type { OwnAddress } from './doors.ts';
import type { Hub, Visitor } from './hub.ts';
import type { ServerLog } from './log.ts';

/** A request of the page is a few hundred bytes; anything longer is a mistake or worse. */
const MAX_MESSAGE_BYTES = 16 * 1024;
const MAX_BROWSERS = 16;
/** The one path where a websocket is opened. */
export const WEBSOCKET_PATH = '/night';

export interface UpgradesContext {
  readonly hub: Hub;
  readonly log: ServerLog;
  readonly door?: Door;
  readonly own: () => OwnAddress;
}

function refuseUpgrade(socket: Duplex, status: string): void {
  // Ended and let go: a socket whose other end never closes would stay half open.
  socket.end(`HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Length: 0\r\n\r\n`, () => socket.destroy());
}

/** Who may open a websocket, or why not, as an HTTP status. */
function visitor(request: IncomingMessage, { hub, door, own }: UpgradesContext): Visitor | string {
  const address = own();
  if (!originIsOurs(request, address)) return '403 Forbidden';
  if (request.url !== WEBSOCKET_PATH) return '404 Not Found';
  const session = door?.admit(sessionIdIn(request, address.port, address.scheme === 'https'));
  if (door && session === undefined) return '401 Unauthorized';
  if (hub.size >= MAX_BROWSERS) return '503 Service Unavailable';
  const from = request.socket.remoteAddress;
  return { where: isOwnComputer(from) ? 'a browser on this computer' : `a browser at ${plainAddress(from)}`, session };
}

/** Opens websockets for pages of this server that were let in, and for nobody else. */
export function acceptBrowsers(server: Server, context: UpgradesContext): void {
  const { hub, log } = context;
  // Pings from outside are not answered: no browser's page can send one, and answers to a flood of them would pile up.
  const sockets = new WebSocketServer({ noServer: true, maxPayload: MAX_MESSAGE_BYTES, perMessageDeflate: false, autoPong: false });
  server.on('upgrade', (request, socket, head) => {
    socket.on('error', (error) => log.info({ error: error.message }, 'a connection broke'));
    const found = visitor(request, context);
    if (typeof found !== 'string') {
      sockets.handleUpgrade(request, socket, head, (browser) => hub.add(browser, found));
      return;
    }
    log.warn({ refusal: found, origin: request.headers.origin ?? 'none', host: request.headers.host ?? 'none' }, 'a websocket was refused');
    refuseUpgrade(socket, found);
  });
}
