import { createServer } from 'node:http';
import type { RequestListener, Server, ServerOptions } from 'node:http';
import { createServer as createTlsServer } from 'node:https';
import type { Socket } from 'node:net';
import { NightjarError } from '../errors/index.ts';
import { isOwnComputer, meteredAs } from './addresses.ts';

/** A certificate with its key, both PEM. */
export interface Certificate {
  readonly certificate: string;
  readonly key: string;
}

/** How long and how large a request may be, and for how long nothing may come. */
export interface HttpBounds {
  readonly headersMs: number;
  readonly requestMs: number;
  readonly idleMs: number;
  readonly handshakeMs: number;
  readonly checkEveryMs: number;
  readonly maxHeaderBytes: number;
}

/** The slowest honest browser needs a second or two for what takes an attacker as long as it is let (slow requests that hold connections). */
export const HTTP_BOUNDS: HttpBounds = { headersMs: 10_000, requestMs: 15_000, idleMs: 30_000, handshakeMs: 10_000, checkEveryMs: 2000, maxHeaderBytes: 8192 };

/** Open connections of all kinds: a browser opens six for pictures beside its websocket. */
const MAX_CONNECTIONS = 256;
/** Of one other computer. This computer's own browsers are not counted apart: they may have them all. */
const MAX_OF_ONE = 64;

/** No address but this computer's may take all connections for itself. */
function shareConnections(server: Server): void {
  const open = new Map<string, number>();
  server.maxConnections = MAX_CONNECTIONS;
  server.on('connection', (socket: Socket) => {
    const key = meteredAs(socket.remoteAddress);
    if (isOwnComputer(socket.remoteAddress)) return;
    const count = (open.get(key) ?? 0) + 1;
    open.set(key, count);
    socket.once('close', () => {
      const left = (open.get(key) ?? 1) - 1;
      if (left > 0) open.set(key, left);
      else open.delete(key);
    });
    if (count > MAX_OF_ONE) socket.destroy();
  });
}

/** A server that is not listening yet: HTTP, or with a certificate HTTPS from TLS 1.2 up. */
export function createBoundedServer(listener: RequestListener, tls: Certificate | undefined, bounds: HttpBounds): Server {
  const options: ServerOptions = {
    headersTimeout: bounds.headersMs,
    requestTimeout: bounds.requestMs,
    keepAliveTimeout: 5000,
    connectionsCheckingInterval: bounds.checkEveryMs,
    maxHeaderSize: bounds.maxHeaderBytes,
    requireHostHeader: true,
  };
  const server = tls
    ? createTlsServer({ ...options, cert: tls.certificate, key: tls.key, minVersion: 'TLSv1.2', handshakeTimeout: bounds.handshakeMs }, listener)
    : createServer(options, listener);
  server.maxHeadersCount = 100;
  server.timeout = bounds.idleMs;
  // With `Expect: 100-continue` Node would ask for a body before anything has looked at the request.
  server.on('checkContinue', (_, response) => void response.writeHead(417).end());
  shareConnections(server);
  return server;
}

/** Resolves with the port really bound. Rejects with `portInUse`, or with `badUsage` when this computer has no such address. */
export function listen(server: Server, host: string, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      if (error.code === 'EADDRINUSE') reject(new NightjarError('portInUse', { port }));
      else if (error.code === 'EADDRNOTAVAIL' || error.code === 'ENOTFOUND') reject(new NightjarError('badUsage', { reason: `--host ${host}: this computer has no such address` }));
      else reject(error);
    });
    server.listen(port, host, () => {
      server.removeAllListeners('error');
      const address = server.address();
      resolve(typeof address === 'object' && address !== null ? address.port : port);
    });
  });
}
