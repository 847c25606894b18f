import type { IncomingMessage } from 'node:http';

/**
 * The session's cookie. Its name holds the port, for cookies are shared by all ports of a host; under TLS the prefix `__Host-` lets
 * nobody but this very host set it (RFC 6265bis).
 */
export function cookieName(port: number, isTls: boolean): string {
  return `${isTls ? '__Host-' : ''}nightjar-${port}`;
}

/** Never read by a script, never sent along from another site's page. It ends with the browser, and the session behind it earlier. */
export function sessionCookie(id: string, port: number, isTls: boolean): string {
  return `${cookieName(port, isTls)}=${id}; Path=/; HttpOnly; SameSite=Strict${isTls ? '; Secure' : ''}`;
}

/** Takes the cookie away. */
export function noCookie(port: number, isTls: boolean): string {
  return `${sessionCookie('', port, isTls)}; Max-Age=0`;
}

/** The session that a request shows; `undefined` when it shows none, or several. */
export function sessionIdIn(request: IncomingMessage, port: number, isTls: boolean): string | undefined {
  const name = `${cookieName(port, isTls)}=`;
  const shown = (request.headers.cookie ?? '').split(';').map((part) => part.trim()).filter((part) => part.startsWith(name));
  const [only, ...others] = shown;
  return only === undefined || others.length > 0 ? undefined : only.slice(name.length);
}
