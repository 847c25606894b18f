import { chmod, rm, writeFile } from 'node:fs/promises';
import { connect } from 'node:tls';
import type { ConnectionOptions } from 'node:tls';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { WebSocket } from 'ws';
import { readCertificate } from '../../../daemon/server/certificate.ts';
import type { CheckedCertificate } from '../../../daemon/server/certificate.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { slowMachineMs } from '../../support/tinyNight.ts';
import { ask, Certificates, cookieOf, rawLine, serveGuarded } from './intruders.ts';
import { serve } from './support.ts';
import type { Served } from './support.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: what can be reached from other computers asks for a token and is encrypted, with a certificate that browsers will take. */

const certificates = new Certificates();
/** A minute on: certificates begin with the second in which they are made. */
const nowMs = createSystemClock().now() + 60_000;
const DAY_MS = 86_400_000;
let files: { readonly certificateFile: string; readonly keyFile: string };
let tls: CheckedCertificate;
let at: Served | undefined;

beforeAll(async () => {
  files = await certificates.make();
  tls = await readCertificate(files.certificateFile, files.keyFile, ['bench2.lab.example'], nowMs);
});
afterAll(() => certificates.clear());
afterEach(async () => {
  await at?.server.close();
  if (at) await rm(at.folder, { recursive: true, force: true });
  at = undefined;
});

/** The TLS version that is agreed on, or the code of the error. */
function handshake(port: number, options: ConnectionOptions): Promise<string> {
  return new Promise((resolve) => {
    const socket = connect({ host: '127.0.0.1', port, rejectUnauthorized: false, ...options }, () => {
      resolve(socket.getProtocol() ?? 'none');
      socket.destroy();
    });
    socket.on('error', (error: NodeJS.ErrnoException) => resolve(error.code ?? error.message));
  });
}

describe('a page that others can reach', () => {
  it('is not opened without a token, nor without a certificate unless that is asked for', async () => {
    await expect(serve({ host: '0.0.0.0', tls })).rejects.toMatchObject({ code: 'badUsage' });
    await expect(serve({ host: '0.0.0.0' })).rejects.toMatchObject({ code: 'needsTls' });
    await expect(serveGuarded({ host: '0.0.0.0' })).rejects.toMatchObject({ code: 'needsTls', details: { host: '0.0.0.0' } });
    for (const name of ['bench 2', '10.0.0.1', 'a.example:7310', '*.example', 'a..b', '']) await expect(serve({ names: [name] }), name).rejects.toMatchObject({ code: 'badUsage' });
    at = await serveGuarded({ host: '0.0.0.0', unencrypted: true });
    expect((await ask(at.server.port, '/')).status).toBe(401);
  });

  it('answers to the names it was given and to its own address, and to no other', async () => {
    at = await serveGuarded({ host: '0.0.0.0', tls, names: ['Bench2.lab.example'.toLowerCase()] });
    const { port, url } = at.server;
    expect(url).toBe(`https://bench2.lab.example:${port}/`);
    const status = async (host: string): Promise<number> => (await ask(port, '/', { tls: true, headers: { host } })).status;
    for (const host of [`bench2.lab.example:${port}`, `BENCH2.lab.example:${port}`, `127.0.0.1:${port}`]) expect(await status(host), host).toBe(401);
    for (const host of ['bench2.lab.example', `evil.example:${port}`, `bench2.lab.example.evil.example:${port}`, `10.9.8.7:${port}`, `0.0.0.0:${port}`, '']) expect(await status(host), host).toBeGreaterThanOrEqual(400);
    for (const host of [`evil.example:${port}`, `10.9.8.7:${port}`]) expect(await status(host), host).toBe(421);
  });
});

describe('TLS', () => {
  it('begins at 1.2, and says to browsers that there is nothing else here', async () => {
    const guarded = await serveGuarded({ tls });
    at = guarded;
    const { port } = guarded.server;
    expect(await handshake(port, {})).toBe('TLSv1.3');
    expect(await handshake(port, { maxVersion: 'TLSv1.2' })).toBe('TLSv1.2');
    // The client itself is told to allow what is old, so that it is the server that refuses.
    expect(await handshake(port, { minVersion: 'TLSv1', maxVersion: 'TLSv1.1', ciphers: 'DEFAULT@SECLEVEL=0' })).toMatch(/PROTOCOL|ALERT|SSL/);
    const page = await ask(port, '/', { tls: true });
    expect(page.headers['strict-transport-security']).toBe('max-age=2592000');
    const answer = await guarded.give(guarded.token);
    expect([answer.headers['set-cookie']].flat()).toEqual([expect.stringMatching(/^__Host-nightjar-\d+=[\w-]{43}; Path=\/; HttpOnly; SameSite=Strict; Secure$/)]);
    const socket = new WebSocket(`wss://127.0.0.1:${port}/night`, { rejectUnauthorized: false, headers: { origin: guarded.own, cookie: cookieOf(answer) } });
    await new Promise((resolve, reject) => socket.once('open', resolve).once('error', reject));
    socket.terminate();
  });

  it('gives nothing to who speaks plain HTTP to it', async () => {
    at = await serveGuarded({ tls });
    const { said } = rawLine(at.server.port, `GET / HTTP/1.1\r\nHost: 127.0.0.1:${at.server.port}\r\n\r\n`);
    expect(await said).not.toMatch(/ 200 |the door|the page/);
    const upgrade = new WebSocket(`wss://127.0.0.1:${at.server.port}/night`, { rejectUnauthorized: false, headers: { origin: `http://127.0.0.1:${at.server.port}` } });
    expect(await new Promise((resolve) => upgrade.once('unexpected-response', (_, response) => resolve(response.statusCode)))).toBe(403);
  });
});

describe('a certificate', () => {
  const read = (names: readonly string[] = [], ms = nowMs, more: Partial<typeof files> = {}): Promise<CheckedCertificate> => readCertificate(more.certificateFile ?? files.certificateFile, more.keyFile ?? files.keyFile, names, ms);
  const refusal = (pattern: RegExp): unknown => expect.objectContaining({ code: 'badCertificate', details: expect.objectContaining({ reason: expect.stringMatching(pattern) as unknown }) as unknown });

  it('is refused when it is over, not yet valid, for another name, or has another key', async () => {
    expect(tls.untilMs).toBeGreaterThan(nowMs);
    await expect(read([], nowMs + 3 * DAY_MS)).rejects.toEqual(refusal(/expired on 20\d\d-/));
    await expect(read([], nowMs - 3 * DAY_MS)).rejects.toEqual(refusal(/valid only from/));
    await expect(read(['other.example'])).rejects.toEqual(refusal(/does not cover the name other\.example/));
    const other = await certificates.make();
    await expect(read([], nowMs, { keyFile: other.keyFile })).rejects.toEqual(refusal(/not the key of/));
  });

  it('is refused with the file’s name when it is none, is not there, or its key can be read by others', async () => {
    const { certificateFile, keyFile } = await certificates.make();
    await expect(read([], nowMs, { certificateFile: `${certificateFile}.none` })).rejects.toEqual(refusal(/ENOENT/));
    await expect(read([], nowMs, { certificateFile: keyFile })).rejects.toEqual(refusal(/not a certificate in PEM/));
    await expect(read([], nowMs, { keyFile: `${keyFile}.none` })).rejects.toEqual(refusal(/ENOENT/));
    await chmod(keyFile, 0o644);
    await expect(read([], nowMs, { certificateFile, keyFile })).rejects.toEqual(refusal(/any user of this computer/));
    await writeFile(keyFile, 'no key');
    await chmod(keyFile, 0o600);
    await expect(read([], nowMs, { certificateFile, keyFile })).rejects.toEqual(refusal(/not a key in PEM/));
  });
});
