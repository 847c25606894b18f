import { rm } from 'node:fs/promises';
import { request } from 'node:http';
import { connect } from 'node:net';
import { afterEach, describe, expect, it } from 'vitest';
import { browse, openStatus, serve } from './support.ts';
import type { Served } from './support.ts';

let served: Served | undefined;
afterEach(async () => {
  await served?.server.close();
  if (served) await rm(served.folder, { recursive: true, force: true });
  served = undefined;
});

interface Answer {
  readonly status: number;
  readonly body: string;
  readonly headers: NodeJS.Dict<string | string[]>;
}

/** node:http sends the path as it is written; fetch would tidy `..` away before it left. */
function get(port: number, path: string, options: { readonly method?: string; readonly host?: string } = {}): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const headers = options.host === undefined ? {} : { host: options.host };
    const asked = request({ host: '127.0.0.1', port, path, method: options.method ?? 'GET', headers }, (response) => {
      let body = '';
      response.on('data', (part: Buffer) => (body += part.toString()));
      response.on('end', () => resolve({ status: response.statusCode ?? 0, body, headers: response.headers }));
    });
    asked.on('error', reject);
    asked.end();
  });
}

describe('pages and pictures', () => {
  it('sends the page, built files, pictures and the live picture with fitting caches and headers', async () => {
    served = await serve();
    const { port, url } = served.server;
    expect(url).toBe(`http://127.0.0.1:${port}/`);
    const page = await get(port, '/');
    expect(page).toMatchObject({ status: 200, headers: { 'content-type': 'text/html; charset=utf-8', 'cache-control': 'no-cache', 'x-content-type-options': 'nosniff' } });
    expect(page.body).toContain('the page');
    expect(page.headers['content-security-policy']).toContain("default-src 'none'");
    expect(page.headers['content-security-policy']).not.toContain('unsafe');
    expect((await get(port, '/assets/page-abc123.js')).headers['cache-control']).toContain('immutable');
    expect(await get(port, '/pictures/tiles/000012.webp')).toMatchObject({ status: 200, headers: { 'content-type': 'image/webp', 'cache-control': 'public, max-age=31536000, immutable' } });
    expect(await get(port, '/live?at=3')).toMatchObject({ status: 200, body: '\u0001\u0002\u0003', headers: { 'cache-control': 'no-store' } });
  });

  it.each(['/../secret.txt', '/%2e%2e/secret.txt', '/assets/../../secret.txt', '/..%2fsecret.txt', '/assets/..%5c..%5csecret.txt', '/%00', '/%', '//secret.txt', '/.hidden/file.txt', '/pictures/../secret.txt', '/pictures/', '/assets'])(
    'has nothing at %s',
    async (path) => {
      served = await serve();
      const answer = await get(served.server.port, path);
      expect(answer.status).toBe(404);
      expect(answer.body).not.toContain('secret\n');
      expect(answer.body).not.toContain('hidden\n');
    },
  );

  it('answers GET only, and only to its own name', async () => {
    served = await serve();
    const { port } = served.server;
    expect(await get(port, '/', { method: 'POST' })).toMatchObject({ status: 405, headers: { allow: 'GET' } });
    expect((await get(port, '/', { host: `localhost:${port}` })).status).toBe(200);
    // DNS rebinding: another site's name made to point at 127.0.0.1.
    expect((await get(port, '/', { host: `evil.example:${port}` })).status).toBe(421);
    expect((await get(port, '/', { host: `127.0.0.1:${port + 1}` })).status).toBe(421);
  });

  it('names a taken port', async () => {
    served = await serve();
    const { port } = served.server;
    await expect(serve({ port })).rejects.toMatchObject({ code: 'portInUse', details: { port } });
  });
});

describe('who may open the websocket', () => {
  it.each([
    ['a page of this server', {}, 101],
    ['a page elsewhere', { origin: 'https://evil.example' }, 403],
    ['a page on another port of this computer', { origin: 'http://127.0.0.1:1' }, 403],
    ['no Origin at all', { origin: 'none' }, 403],
    ['an opaque origin', { origin: 'null' }, 403],
    ['another path', { path: '/elsewhere' }, 404],
  ])('%s: %o gives %i', async (_, options, status) => {
    served = await serve();
    const browser = browse(served.server.port, options);
    expect(await openStatus(browser)).toBe(status);
    browser.socket.terminate();
  });

  it('a name that was pointed here: Host and Origin agree with each other and not with us', async () => {
    served = await serve();
    const { port } = served.server;
    expect(await openStatus(browse(port, { origin: `http://evil.example:${port}`, host: `evil.example:${port}` }))).toBe(403);
    const local = browse(port, { origin: `http://localhost:${port}`, host: `localhost:${port}` });
    expect(await openStatus(local)).toBe(101);
    local.socket.terminate();
  });

  it('takes sixteen browsers and no more', async () => {
    served = await serve();
    const { port } = served.server;
    const many = Array.from({ length: 16 }, () => browse(port));
    expect(await Promise.all(many.map(openStatus))).toEqual(many.map(() => 101));
    expect(await openStatus(browse(port))).toBe(503);
    many.forEach((browser) => browser.socket.terminate());
  });
});

describe('messages', () => {
  it('gives each browser a snapshot first and its own count', async () => {
    served = await serve();
    const first = browse(served.server.port);
    await first.until((m) => m.type === 'snapshot');
    served.tell({ type: 'event', event: { atMs: 1, kind: 'note', text: 'one' } });
    await first.until((m) => m.type === 'event');
    const second = browse(served.server.port);
    await second.until((m) => m.type === 'snapshot');
    served.tell({ type: 'event', event: { atMs: 2, kind: 'note', text: 'two' } });
    await second.until((m) => m.seq === 3);
    await first.until((m) => m.seq === 4);
    expect(first.messages.map((m) => [m.seq, m.type])).toEqual([[1, 'snapshot'], [2, 'controls'], [3, 'event'], [4, 'event']]);
    expect(second.messages.map((m) => [m.seq, m.type])).toEqual([[1, 'snapshot'], [2, 'controls'], [3, 'event']]);
  });

  it('starts a night and checks again only for the browser that has the controls', async () => {
    served = await serve();
    const [holder, watcher] = [browse(served.server.port), browse(served.server.port)];
    for (const browser of [holder, watcher]) await browser.until((m) => m.type === 'snapshot');
    holder.send({ type: 'takeControls', request: 'take' });
    await holder.until((m) => m.type === 'answer' && m.request === 'take');
    for (const type of ['startNight', 'checkAgain']) {
      watcher.send({ type, request: type });
      expect(await watcher.until((m) => (m.type === 'refused' || m.type === 'answer') && m.request === type)).toMatchObject({ type: 'refused', code: 'needsControls' });
    }
    expect(served.calls).toEqual([]);
    holder.send({ type: 'checkAgain', request: 'again' });
    holder.send({ type: 'startNight', request: 'start' });
    await holder.until((m) => m.type === 'answer' && m.request === 'start');
    expect(served.calls).toEqual(['checkAgain', 'startNight']);
  });

  it('carries out what is asked and answers with the request’s own name', async () => {
    served = await serve();
    const browser = browse(served.server.port);
    await browser.until((m) => m.type === 'snapshot');
    browser.send({ type: 'takeControls', request: 'take' });
    for (const type of ['pause', 'goOn', 'stop', 'endLive', 'ping']) browser.send({ type, request: type });
    browser.send({ type: 'goToFlake', request: 'go', flakeId: 'K-07·3' });
    await browser.until((m) => m.type === 'answer' && m.request === 'go');
    expect(served.calls).toEqual(['pause', 'goOn', 'stop', 'endLive', 'goToFlake K-07·3']);
    browser.send({ type: 'snapshot', request: 'again' });
    await browser.until((m) => m.type === 'snapshot' && m.seq > 1);
  });

  it('hands verdicts on as the schema leaves them', async () => {
    served = await serve();
    const browser = browse(served.server.port);
    await browser.until((m) => m.type === 'snapshot');
    browser.send({ type: 'giveVerdict', request: 'v', flakeId: 'K-07-3', terrace: 1, layers: 2, source: 'afm', initials: ' m.o. ' });
    browser.send({ type: 'withdrawVerdict', request: 'w', flakeId: 'K-07-3', terrace: 1 });
    await browser.until((m) => m.type === 'answer' && m.request === 'w');
    expect(served.calls).toEqual([`giveVerdict ${JSON.stringify({ flakeId: 'K-07-3', terrace: 1, layers: 2, source: 'afm', initials: 'm.o.' })}`, 'withdrawVerdict K-07-3 1']);
  });

  it('answers with the flake to judge next and nothing else, so that nobody can tell whether it is a new one', async () => {
    served = await serve();
    const browser = browse(served.server.port);
    await browser.until((m) => m.type === 'snapshot');
    browser.send({ type: 'nextToJudge', request: 'u', initials: ' m.o. ' });
    browser.send({ type: 'nextToJudge', request: 'none', initials: 'n.n.' });
    const { seq: _, ...answer } = await browser.until((m) => m.type === 'answer' && m.request === 'u');
    expect(answer).toEqual({ type: 'answer', request: 'u', flakeId: 'K-07-3' });
    const { seq: __, ...none } = await browser.until((m) => m.type === 'answer' && m.request === 'none');
    expect(none).toEqual({ type: 'answer', request: 'none' });
    expect(served.calls).toEqual(['nextToJudge m.o.', 'nextToJudge n.n.']);
  });

  it('passes a refusal on with its code and sentence', async () => {
    served = await serve();
    const browser = browse(served.server.port);
    await browser.until((m) => m.type === 'snapshot');
    browser.send({ type: 'takeControls', request: 'take' });
    browser.send({ type: 'goToFlake', request: 'go', flakeId: 'none' });
    const refused = await browser.until((m) => m.type === 'refused');
    expect(refused).toMatchObject({ request: 'go', code: 'noSuchFlake' });
  });

  it.each([
    ['not JSON', '{'],
    ['no object', '7'],
    ['an unknown type', { type: 'moveTo', request: 'r', xUm: 1 }],
    ['a key too many', { type: 'pause', request: 'r', now: true }],
    ['no request', { type: 'pause' }],
    ['layers that nobody counts', { type: 'giveVerdict', request: 'r', flakeId: 'a', terrace: 0, layers: 11, source: 'afm', initials: 'm.o.' }],
    ['a number from nowhere', { type: 'giveVerdict', request: 'r', flakeId: 'a', terrace: 0, layers: 1, source: 'hearsay', initials: 'm.o.' }],
    ['a number by nobody', { type: 'giveVerdict', request: 'r', flakeId: 'a', terrace: 0, layers: 1, source: 'afm', initials: ' ' }],
    ['a question by nobody', { type: 'nextToJudge', request: 'r', initials: '' }],
    ['a terrace between two', { type: 'withdrawVerdict', request: 'r', flakeId: 'a', terrace: 0.5 }],
    ['a name too long', { type: 'goToFlake', request: 'r', flakeId: 'x'.repeat(81) }],
  ])('refuses %s and does nothing', async (_, value) => {
    served = await serve();
    const browser = browse(served.server.port);
    await browser.until((m) => m.type === 'snapshot');
    browser.send(value);
    expect(await browser.until((m) => m.type === 'refused')).toMatchObject({ code: 'badMessage' });
    expect(served.calls).toEqual([]);
  });

  it('lets a browser go after five bad messages in a row, and at once for one above 16 KiB', async () => {
    served = await serve();
    const rude = browse(served.server.port);
    await rude.until((m) => m.type === 'snapshot');
    for (let i = 0; i < 5; i += 1) rude.send('rubbish');
    expect(await rude.closed).toBe(1008);
    const large = browse(served.server.port);
    await large.until((m) => m.type === 'snapshot');
    large.send({ type: 'goToFlake', request: 'r', flakeId: 'x'.repeat(17_000) });
    expect(await large.closed).toBe(1009);
    expect(served.calls).toEqual([]);
  });

  it('stops listening when it is closed', async () => {
    const part = await serve();
    served = part;
    const browser = browse(part.server.port);
    await browser.until((m) => m.type === 'snapshot');
    expect(part.listeners()).toBe(1);
    await part.server.close();
    expect(part.listeners()).toBe(0);
    await browser.closed;
  });
});

describe('a browser that does not read', () => {
  it('holds nobody up, and gets the night as it stands once it reads', async () => {
    served = await serve({ bounds: { slowAboveBytes: 256 * 1024, drainedBelowBytes: 16 * 1024, keptAnswers: 4 } });
    const { port } = served.server;
    const brisk = browse(port);
    await brisk.until((m) => m.type === 'snapshot');
    const slow = connect(port, '127.0.0.1');
    slow.write(`GET /night HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nOrigin: http://127.0.0.1:${port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n`);
    await new Promise((resolve) => slow.once('data', resolve));
    slow.pause();
    const text = 'x'.repeat(8 * 1024);
    // Far more than the kernel's buffers between two sockets of one computer hold.
    const count = 4000;
    for (let i = 0; i < count; i += 1) {
      served.tell({ type: 'event', event: { atMs: i, kind: 'note', text } });
      if (i % 20 === 19) await brisk.until((m) => m.type === 'event' && m.event.atMs === i);
    }
    let bytes = 0;
    const caughtUp = new Promise<void>((resolve) => {
      let tail = '';
      slow.on('data', (part: Buffer) => {
        bytes += part.length;
        tail = (tail + part.toString('latin1')).slice(-100_000);
        if (tail.includes('"type":"snapshot"')) resolve();
      });
    });
    slow.resume();
    await caughtUp;
    expect(bytes).toBeLessThan((count * text.length) / 2);
    slow.destroy();
  });
});
