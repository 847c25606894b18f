import type { IncomingMessage } from 'node:http';
import { plainAddress } from './addresses.ts';

const LOOPBACK_HOSTS: readonly string[] = ['127.0.0.1', '::1', 'localhost'];
const USUAL_PORT = { http: 80, https: 443 } as const;

/** How this server is called from outside. */
export interface OwnAddress {
  readonly scheme: 'http' | 'https';
  readonly port: number;
  /** Names that people gave it, lower-case; besides those of loopback and the address itself. */
  readonly names: readonly string[];
}

/** True for an address that only this computer can reach. */
export function isLoopback(host: string): boolean {
  return LOOPBACK_HOSTS.includes(host);
}

/** A name that a network may have for this computer (RFC 1123), lower-case; no address and no port. */
export function isHostName(name: string): boolean {
  return name.length <= 253 && /^(?=.*[a-z])[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*$/.test(name);
}

/** `host:port` as browsers write it: a colon in the host needs brackets, and the scheme's usual port is left out. */
export function hostAndPort(host: string, { port, scheme }: Pick<OwnAddress, 'port' | 'scheme'>): string {
  const bracketed = host.includes(':') ? `[${host}]` : host;
  return port === USUAL_PORT[scheme] ? bracketed : `${bracketed}:${port}`;
}

/**
 * False when the Host header names none of ours. A page elsewhere can point its own name at this address (DNS rebinding); the
 * browser then still sends that name here. The address that the connection really came to is no name, so it is ours.
 */
export function hostIsOurs(request: IncomingMessage, own: OwnAddress): boolean {
  const host = request.headers.host?.toLowerCase();
  const names = [...LOOPBACK_HOSTS, ...own.names, plainAddress(request.socket.localAddress)];
  return host !== undefined && names.some((name) => name !== '' && hostAndPort(name, own) === host);
}

/**
 * False unless the page that asks came from this very server. Browsers always send an Origin with a websocket and with a script's POST and
 * never let a page forge it, but do let any page open a websocket to any address; so without an Origin, or with another, it is refused.
 */
export function originIsOurs(request: IncomingMessage, own: OwnAddress): boolean {
  const { host, origin } = request.headers;
  return hostIsOurs(request, own) && origin !== undefined && origin.toLowerCase() === `${own.scheme}://${host?.toLowerCase()}`;
}
