/**
 * The page may load and reach nothing but this server: no inline script or style, no frame round it, no form. Pictures are also
 * made in the page itself (`blob:`).
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

/** Sent with every answer. */
export const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  'Content-Security-Policy': CONTENT_SECURITY_POLICY,
  'X-Content-Type-Options': 'nosniff',
  'Referrer-Policy': 'no-referrer',
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Resource-Policy': 'same-origin',
};

/** The file's name holds a hash of its content, or the file never changes: a browser need not ask again. */
export const KEEP_FOR_GOOD = 'public, max-age=31536000, immutable';
/** Ask each time whether it has changed. */
export const ASK_EACH_TIME = 'no-cache';
/** Different at each look. */
export const KEEP_NOT_AT_ALL = 'no-store';
