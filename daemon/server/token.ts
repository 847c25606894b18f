import { scrypt, timingSafeEqual } from 'node:crypto';
import { z } from 'zod';
import type { Secrets } from './secrets.ts';

/**
 * What one guess costs: scrypt (RFC 7914) with 32 MiB and three passes, one of the settings that OWASP's Password Storage Cheat Sheet
 * names as equal (N = 2^15, r = 8, p = 3; from memory). Not the one with 128 MiB: the computer that guesses are sent to holds frames.
 */
export const COST = { N: 32_768, r: 8, p: 3 } as const;
const SALT_BYTES = 16;
const HASH_BYTES = 32;
/** 160 random bits: nobody guesses them, however cheap a guess. */
const TOKEN_BYTES = 20;
/** Crockford's base 32: no letter that can be taken for a digit. */
const LETTERS = '0123456789abcdefghjkmnpqrstvwxyz';

const base64 = z.string().regex(/^[A-Za-z0-9_-]+$/);
/** What is kept of a token: enough to know it again, not enough to give it. */
export const tokenRecordSchema = z.strictObject({
  kind: z.literal('nightjar token'),
  madeAtMs: z.number().int().nonnegative(),
  cost: z.strictObject({ N: z.number().int().min(16_384).max(1_048_576), r: z.number().int().min(1).max(16), p: z.number().int().min(1).max(16) }),
  salt: base64.min(22).max(86),
  hash: base64.length(43),
});
export type TokenRecord = z.infer<typeof tokenRecordSchema>;

/** A new token as it is printed: 32 letters and digits in groups of four. */
export function makeToken(secrets: Secrets): string {
  let bits = '';
  for (const byte of secrets.bytes(TOKEN_BYTES)) bits += byte.toString(2).padStart(8, '0');
  const letters = (bits.match(/.{5}/g) ?? []).map((five) => LETTERS[Number.parseInt(five, 2)] ?? '');
  return (letters.join('').match(/.{4}/g) ?? []).join('-');
}

/** The token in what a person typed: capitals, hyphens and spaces make no difference, nor does O for 0, I or L for 1. */
export function readToken(typed: string): string {
  return typed.toLowerCase().replace(/[\s-]/g, '').replace(/o/g, '0').replace(/[il]/g, '1');
}

/** The slow digest of a password; off the main thread. */
export function slowHash(password: string, salt: Uint8Array, cost: TokenRecord['cost'], bytes = HASH_BYTES): Promise<Buffer> {
  // Node refuses more memory than 32 MiB unless told; twice what the formula 128 N r needs is allowed.
  const maxmem = 256 * cost.N * cost.r;
  return new Promise((resolve, reject) => scrypt(password, salt, bytes, { ...cost, maxmem }, (error, hash) => (error ? reject(error) : resolve(hash))));
}

/** What is to be kept of a token. */
export async function recordOf(token: string, secrets: Secrets, nowMs: number, cost: TokenRecord['cost'] = COST): Promise<TokenRecord> {
  const salt = secrets.bytes(SALT_BYTES);
  const hash = await slowHash(readToken(token), salt, cost);
  return { kind: 'nightjar token', madeAtMs: nowMs, cost: { ...cost }, salt: salt.toString('base64url'), hash: hash.toString('base64url') };
}

/** Whether this is the token; takes as long for a wrong one. */
export async function isToken(typed: string, record: TokenRecord): Promise<boolean> {
  const hash = await slowHash(readToken(typed), Buffer.from(record.salt, 'base64url'), record.cost);
  return timingSafeEqual(hash, Buffer.from(record.hash, 'base64url'));
}
