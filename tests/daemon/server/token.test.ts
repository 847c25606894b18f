import { chmod, mkdtemp, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { SESSION_BOUNDS, Sessions } from '../../../daemon/server/sessions.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { COST, isToken, makeToken, readToken, recordOf, slowHash } from '../../../daemon/server/token.ts';
import { makeTokenFile, readTokenFile, tokenFile } from '../../../daemon/server/tokenFile.ts';

/** Protects: the token cannot be guessed, is kept only as a slow digest that others cannot read, and what a person typed of it is understood. */

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightjar-token-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

describe('the token', () => {
  it('is 160 bits in letters that nobody mistakes, and another each time', () => {
    const token = makeToken({ bytes: (count) => Buffer.from(Array.from({ length: count }, (_, i) => i)) });
    // By hand: bytes 0, 1, 2, 3, 4 are the fives 00000 00000 00000 10000 00100 00000 11000 00100.
    expect(token.slice(0, 9)).toBe('000g-40r4');
    expect(token).toMatch(/^([0-9a-hjkmnp-tv-z]{4}-){7}[0-9a-hjkmnp-tv-z]{4}$/);
    expect(new Set(Array.from({ length: 100 }, () => makeToken(systemSecrets))).size).toBe(100);
  });

  it('is understood however it is typed', () => {
    expect(readToken(' 0OIL-abcD efgh')).toBe('0011abcdefgh');
  });

  // RFC 7914, section 12: the third test vector.
  it('is hashed by scrypt as the standard has it', async () => {
    const hash = await slowHash('pleaseletmein', Buffer.from('SodiumChloride'), { N: 16_384, r: 8, p: 1 }, 64);
    expect(hash.toString('hex')).toBe('7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2d5432955613f0fcf62d49705242a9af9e61e85dc0d651e40dfcf017b45575887');
  });

  it('is known again by its digest, and no other one is', async () => {
    const token = makeToken(systemSecrets);
    const record = await recordOf(token, systemSecrets, 5);
    expect(record.cost).toEqual(COST);
    expect(JSON.stringify(record)).not.toContain(token.slice(0, 4));
    expect(await isToken(token.toUpperCase().replaceAll('-', ''), record)).toBe(true);
    expect(await isToken(`${token}0`, record)).toBe(false);
    expect(await isToken('', record)).toBe(false);
    expect((await recordOf(token, systemSecrets, 5)).hash).not.toBe(record.hash);
  });

  it('is kept in a file that nobody else can read, and replaced whole', async () => {
    const file = tokenFile(join(folder, 'state'));
    expect(await readTokenFile(file)).toBeUndefined();
    const first = await makeTokenFile(file, systemSecrets, 1);
    const second = await makeTokenFile(file, systemSecrets, 2);
    expect((await stat(file)).mode & 0o777).toBe(0o600);
    expect((await stat(join(folder, 'state'))).mode & 0o777).toBe(0o700);
    const record = await readTokenFile(file);
    expect(record?.madeAtMs).toBe(2);
    expect(record && (await isToken(second, record))).toBe(true);
    expect(record && (await isToken(first, record))).toBe(false);
    expect(await readFile(file, 'utf8')).not.toContain(second);
  });

  it('is not believed from a file that others can read or that holds something else', async () => {
    const file = tokenFile(folder);
    await makeTokenFile(file, systemSecrets, 1);
    await chmod(file, 0o644);
    await expect(readTokenFile(file)).rejects.toMatchObject({ code: 'badTokenFile' });
    for (const text of ['{', '{}', JSON.stringify({ kind: 'nightjar token', madeAtMs: 1, cost: { N: 2, r: 1, p: 1 }, salt: 'a', hash: 'b' }), 'x'.repeat(5000)]) {
      await writeFile(file, text);
      await chmod(file, 0o600);
      await expect(readTokenFile(file)).rejects.toMatchObject({ code: 'badTokenFile' });
    }
  });
});

describe('sessions', () => {
  it('end unused after a day and in any case after a week, and are known by nothing but their id', () => {
    const sessions = new Sessions(systemSecrets);
    const id = sessions.open(0);
    expect(id).toMatch(/^[\w-]{43}$/);
    const key = sessions.find(id, 1000);
    expect(key).toBeDefined();
    expect(key).not.toBe(id);
    expect(key && sessions.find(key, 1000)).toBeUndefined();
    for (let ms = 0; ms < SESSION_BOUNDS.longestMs; ms += SESSION_BOUNDS.unusedMs / 2) expect(sessions.find(id, ms)).toBe(key);
    expect(sessions.find(id, SESSION_BOUNDS.longestMs)).toBeUndefined();
    const other = sessions.open(0);
    expect(sessions.find(other, SESSION_BOUNDS.unusedMs)).toBeUndefined();
  });

  it('are bounded: the one unused for longest goes first', () => {
    const sessions = new Sessions(systemSecrets);
    const ids = Array.from({ length: SESSION_BOUNDS.most }, (_, i) => sessions.open(i));
    sessions.find(ids[0] ?? '', 1000);
    sessions.open(1001);
    expect(sessions.size).toBe(SESSION_BOUNDS.most);
    expect(sessions.find(ids[0] ?? '', 1002)).toBeDefined();
    expect(sessions.find(ids[1] ?? '', 1002)).toBeUndefined();
  });
});
