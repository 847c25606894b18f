import { createHmac } from 'node:crypto';

/** HMAC-SHA256 (RFC 2104 with FIPS 180-4) of a UTF-8 text, in lower-case hex. */
export function hmacSha256(key: string | Uint8Array, text: string | Uint8Array): string {
  return createHmac('sha256', key).update(text).digest('hex');
}

/**
 * Headers by which the receiver knows that a body is ours: the signature is over "TIME.BODY", so that an old message cannot be sent again as
 * a new one by someone who changes the time.
 */
export function signatureHeaders(key: string, body: string, atMs: number): Readonly<Record<string, string>> {
  const time = String(Math.floor(atMs / 1000));
  return { 'X-Nightjar-Time': time, 'X-Nightjar-Signature': `sha256=${hmacSha256(key, `${time}.${body}`)}` };
}
