import type { IncomingMessage } from 'node:http';

/** Only these are bound: whoever can reach them already sits at this computer. */
const LOOPBACK_HOSTS: readonly string[] = ['127.0.0.1', '::1', 'localhost'];

/** True for an address that only this computer can reach. */
export function isLoopback(host: string): boolean {
  return LOOPBACK_HOSTS.includes(host);
}

/** `host:port` as browsers write it: a colon in the host needs brackets. */
export function hostAndPort(host: string, port: number): string {
  return host.includes(':') ? `[${host}]:${port}` : `${host}:${port}`;
}

/** Every way in which a browser on this computer may spell the server's address in its Host header. */
export function ownHosts(port: number): ReadonlySet<string> {
  return new Set(LOOPBACK_HOSTS.map((host) => hostAndPort(host, port)));
}

/**
 * False when the Host header is not one of ours. A page elsewhere can point its own name at 127.0.0.1 (DNS rebinding); the
 * browser then still sends that name here.
 */
export function hostIsOurs(request: IncomingMessage, port: number): boolean {
  const host = request.headers.host;
  return host !== undefined && ownHosts(port).has(host.toLowerCase());
}

/**
 * False unless the page that opens the websocket came from this very server. Browsers always send an Origin with a websocket
 * and never let a page forge it, but do let any page open one to 127.0.0.1; so without an Origin, or with another, it is refused.
 */
export function originIsOurs(request: IncomingMessage, port: number): boolean {
  const { host, origin } = request.headers;
  return hostIsOurs(request, port) && origin !== undefined && origin.toLowerCase() === `http://${host?.toLowerCase()}`;
}
