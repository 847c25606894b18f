import { rm } from 'node:fs/promises';
import { connect } from 'node:net';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { WebSocket } from 'ws';
import { HTTP_BOUNDS } from '../../../daemon/server/listening.ts';
import { slowMachineMs } from '../../support/tinyNight.ts';
import { ask, rawLine, serveGuarded, stillClock } from './intruders.ts';
import { browse, openStatus, serve } from './support.ts';
import type { Served } from './support.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: whoever sends too much, too large, too slowly or too oddly is let go, and the others are served meanwhile. */

let at: Served | undefined;
afterEach(async () => {
  await at?.server.close();
  if (at) await rm(at.folder, { recursive: true, force: true });
  at = undefined;
});

const HASTY = { ...HTTP_BOUNDS, headersMs: 300, requestMs: 400, idleMs: 500, checkEveryMs: 50 };
const isServed = async ({ server }: Served): Promise<void> => expect((await ask(server.port, '/')).status).toBe(200);

describe('messages', () => {
  it('above the rate are refused, a browser that goes on is let go, and its stop went through all the same', async () => {
    at = await serve();
    const browser = browse(at.server.port);
    await browser.until((m) => m.type === 'snapshot');
    for (let i = 0; i < 200; i += 1) browser.send({ type: 'ping', request: `p${i}` });
    browser.send({ type: 'stop', request: 'stop' });
    await browser.until((m) => m.type === 'refused' && m.code === 'tooManyMessages');
    await browser.until((m) => m.type === 'answer' && m.request === 'stop');
    for (let i = 0; i < 2000; i += 1) browser.send({ type: 'ping', request: `q${i}` });
    expect(await browser.closed).toBe(1008);
    expect(at.calls).toEqual(['stop']);
  });

  it('of more than 16 KiB end the line at once, also in pieces and compressed', async () => {
    at = await serve();
    const { port } = at.server;
    const pieces = browse(port);
    await pieces.until((m) => m.type === 'snapshot');
    for (let i = 0; i < 40; i += 1) pieces.socket.send('x'.repeat(1000), { fin: false });
    expect(await pieces.closed).toBe(1009);
    const packed = new WebSocket(`ws://127.0.0.1:${port}/night`, { headers: { origin: `http://127.0.0.1:${port}` }, perMessageDeflate: true });
    await new Promise((resolve) => packed.once('open', resolve));
    expect(packed.extensions).toBe('');
    packed.terminate();
    expect(at.calls).toEqual([]);
  });

  it('that only ping are not answered one by one', async () => {
    at = await serve();
    const browser = browse(at.server.port);
    await browser.until((m) => m.type === 'snapshot');
    let pongs = 0;
    browser.socket.on('pong', () => (pongs += 1));
    for (let i = 0; i < 50; i += 1) browser.socket.ping();
    browser.send({ type: 'ping', request: 'mine' });
    await browser.until((m) => m.type === 'answer' && m.request === 'mine');
    expect(pongs).toBe(0);
    browser.socket.terminate();
  });
});

describe('requests', () => {
  it('of a stranger are few; of the same address with a session many', async () => {
    const guarded = await serveGuarded({ clock: stillClock().clock });
    at = guarded;
    const cookie = await guarded.letIn();
    const statuses = [];
    for (let i = 0; i < 80; i += 1) statuses.push((await ask(guarded.server.port, '/')).status);
    // Sixty at once, one of which gave the token.
    expect(statuses.filter((status) => status === 429)).toHaveLength(21);
    expect(await ask(guarded.server.port, '/live', { headers: { cookie } })).toMatchObject({ status: 200 });
  });

  it('that come a byte at a time, or never, are ended; others are served meanwhile', async () => {
    at = await serve({ httpBounds: HASTY });
    const { port } = at.server;
    const silent = rawLine(port, '');
    const slow = rawLine(port, `GET / HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nX-Slow: `);
    const body = rawLine(port, `POST /door HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nOrigin: http://127.0.0.1:${port}\r\nContent-Type: application/json\r\nContent-Length: 500\r\n\r\n{`);
    await isServed(at);
    expect(await slow.said).toMatch(/^HTTP\/1\.1 408 /);
    await silent.said;
    await body.said;
    await isServed(at);
  });

  it('with headers without end, or with two meanings, are refused', async () => {
    at = await serve();
    const { port } = at.server;
    const host = `Host: 127.0.0.1:${port}\r\n`;
    expect(await rawLine(port, `GET / HTTP/1.1\r\n${host}X: ${'x'.repeat(20_000)}\r\n\r\n`).said).toMatch(/^HTTP\/1\.1 431 /);
    const two = [
      `POST / HTTP/1.1\r\n${host}Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /live HTTP/1.1\r\n${host}\r\n`,
      `POST / HTTP/1.1\r\n${host}Content-Length: 5\r\nContent-Length: 6\r\n\r\nabcdef`,
      `POST / HTTP/1.1\r\n${host}Transfer-Encoding: xchunked\r\n\r\n`,
      `GET / HTTP/1.1\r\n${host}X : y\r\n\r\n`,
      'GET / HTTP/1.1\r\n\r\n',
    ];
    for (const text of two) {
      const said = await rawLine(port, text).said;
      expect(said, text).toMatch(/^HTTP\/1\.1 400 /);
      expect(said.match(/HTTP\/1\.1/g), text).toHaveLength(1);
    }
    expect(await rawLine(port, `GET / HTTP/1.1\r\n${host}Host: evil.example\r\nConnection: close\r\n\r\n`).said).toMatch(/^HTTP\/1\.1 (400|200) /);
  });

  it('that ask before they send a body are told not to', async () => {
    at = await serve();
    const { port } = at.server;
    const { said } = rawLine(port, `POST /door HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nExpect: 100-continue\r\nContent-Length: 9\r\nConnection: close\r\n\r\n`);
    expect(await said).toMatch(/^HTTP\/1\.1 417 /);
  });

  it('over hundreds of lines do not keep others out once they are gone, and websockets stay sixteen', async () => {
    at = await serve({ httpBounds: HASTY });
    const { port } = at.server;
    const lines = Array.from({ length: 300 }, () => connect(port, '127.0.0.1').on('error', () => undefined).resume());
    await Promise.all(lines.map((line) => new Promise((resolve) => line.once('close', resolve))));
    await isServed(at);
    const many = Array.from({ length: 16 }, () => browse(port));
    expect(await Promise.all(many.map(openStatus))).toEqual(many.map(() => 101));
    expect(await openStatus(browse(port))).toBe(503);
    many.forEach((browser) => browser.socket.terminate());
  });
});
