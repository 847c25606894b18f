import type { ServerResponse } from 'node:http';

/**
 * The page may load and reach nothing but this server: no inline script or style, no frame round it, no form (the token is sent by a
 * script). Pictures are also made in the page itself (`blob:`). `frame-ancestors` says what X-Frame-Options said before it and takes
 * its place in every browser that can show the page.
 */
const CONTENT_SECURITY_POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' blob:",
  "font-src 'self'",
  "connect-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

/** What the page never asks a browser for. */
const UNUSED_FEATURES = ['accelerometer', 'bluetooth', 'camera', 'display-capture', 'geolocation', 'gyroscope', 'hid', 'magnetometer', 'microphone', 'midi', 'payment', 'serial', 'usb'];

const ALWAYS: Readonly<Record<string, string>> = {
  'Content-Security-Policy': CONTENT_SECURITY_POLICY,
  'X-Content-Type-Options': 'nosniff',
  'Referrer-Policy': 'no-referrer',
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Resource-Policy': 'same-origin',
  'Permissions-Policy': UNUSED_FEATURES.map((feature) => `${feature}=()`).join(', '),
};

/** Once seen under TLS, a browser does not ask this host without it for a month. Not its subdomains: they may be other people's. */
const ONLY_TLS = 'max-age=2592000';

/** Puts the headers on that every answer has. */
export function secure(response: ServerResponse, isTls: boolean): void {
  for (const [name, value] of Object.entries(ALWAYS)) response.setHeader(name, value);
  // Without TLS browsers pass it over, and so it is not sent (RFC 6797, 7.2).
  if (isTls) response.setHeader('Strict-Transport-Security', ONLY_TLS);
}

/** The file's name holds a hash of its content, or the file never changes: a browser need not ask again. */
export const KEEP_FOR_GOOD = 'public, max-age=31536000, immutable';
/** Ask each time whether it has changed. */
export const ASK_EACH_TIME = 'no-cache';
/** Different at each look, or not for whoever sits there next. */
export const KEEP_NOT_AT_ALL = 'no-store';
