import { createServer, type IncomingMessage, type RequestListener, type Server } from 'node:http';
import { EventEmitter, once } from 'node:events';
import type { AddressInfo } from 'node:net';
import { text } from 'node:stream/consumers';
import { afterEach, describe, expect, it } from 'vitest';
import { hmacSha256 } from '../../../daemon/telling/signature.ts';
import { webhookChannel } from '../../../daemon/telling/webhook.ts';
import { HandClock } from './handClock.ts';
import { eveningMs, flake, tidings } from './samples.ts';

/** Protects: what a webhook is sent, that its signature is HMAC-SHA256, and that servers which fail, hang, close or send on do no harm. */

const open: Server[] = [];
afterEach(async () => {
  for (const server of open.splice(0)) {
    server.closeAllConnections();
    await new Promise<void>((resolve) => server.close(() => resolve()));
  }
});

async function serve(answer: RequestListener): Promise<string> {
  const server = createServer(answer);
  open.push(server);
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}/hook`;
}

const channel = (url: string, secret?: string, clock = new HandClock(eveningMs)) => webhookChannel({ name: 'lab chat', url, about: ['morning'] }, secret, clock);
const never = new AbortController().signal;

describe('HMAC-SHA256', () => {
  // RFC 4231, test cases 1, 2, 3 and 6: keys and data as printed there.
  it.each([
    ['0b'.repeat(20), Buffer.from('Hi There'), 'b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7'],
    [Buffer.from('Jefe').toString('hex'), Buffer.from('what do ya want for nothing?'), '5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843'],
    ['aa'.repeat(20), Buffer.from('dd'.repeat(50), 'hex'), '773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe'],
    ['aa'.repeat(131), Buffer.from('Test Using Larger Than Block-Size Key - Hash Key First'), '60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54'],
  ])('gives what RFC 4231 gives for the key %s', (key, data, digest) => {
    expect(hmacSha256(Buffer.from(key, 'hex'), data)).toBe(digest);
  });
});

describe('a webhook', () => {
  it('is sent the documented JSON, signed over time and body', async () => {
    const got: { request?: IncomingMessage; body?: string } = {};
    const url = await serve((request, response) => {
      void text(request).then((body) => {
        Object.assign(got, { request, body });
        response.writeHead(204).end();
      });
    });
    expect(await channel(url, 'key').send(tidings({ flakes: [flake({ chip: 'K\r\n07' })] }), never)).toEqual({ ok: true, answer: 'HTTP 204' });
    const { headers, method } = got.request ?? {};
    expect([method, headers?.['content-type']]).toEqual(['POST', 'application/json']);
    const time = String(eveningMs / 1000);
    expect(headers).toMatchObject({ 'x-nightjar-time': time, 'x-nightjar-signature': `sha256=${hmacSha256('key', `${time}.${got.body}`)}` });
    expect(JSON.parse(got.body ?? '')).toMatchObject({
      version: 1,
      id: '20260117-203000-morning-1',
      kind: 'morning',
      at: '2026-01-17T20:30:00.000Z',
      night: { runId: '20260117-203000', title: 'Tuesday, new tape', instrument: 'Bench 2', operator: 'm.o.' },
      tiles: { planned: 420, done: 418, skipped: 2 },
      flagged: 1,
      flakes: [{ id: 'K-07/3', chip: 'K 07', layers: 1, probability: 0.97, usableUm: 14.26, chipUm: [812.4, 1204.9] }],
      page: 'http://127.0.0.1:7310/',
    });
  });

  it.each([
    [500, true],
    [503, true],
    [429, true],
    [400, false],
    [404, false],
  ])('that answers %i is asked again: %s', async (status, again) => {
    const url = await serve((_, response) => response.writeHead(status).end('why '.repeat(10_000)));
    expect(await channel(url).send(tidings(), never)).toEqual({ ok: false, again, reason: `HTTP ${status}` });
  });

  it.each([301, 302, 307, 308])('that sends on with %i is not followed, nor asked again', async (status) => {
    let followed = 0;
    const elsewhere = await serve((_, response) => {
      followed++;
      response.end();
    });
    const url = await serve((_, response) => response.writeHead(status, { Location: elsewhere }).end());
    expect(await channel(url, 'key').send(tidings(), never)).toMatchObject({ ok: false, again: false, reason: expect.stringContaining('not followed') });
    expect(followed).toBe(0);
  });

  it('that hangs is given up after ten seconds by the clock', async () => {
    const far = new EventEmitter();
    const url = await serve(() => far.emit('asked'));
    const asked = once(far, 'asked');
    const clock = new HandClock(eveningMs);
    const sending = channel(url, undefined, clock).send(tidings(), never);
    await asked;
    clock.push(10_000);
    expect(await sending).toEqual({ ok: false, again: true, reason: 'no answer within 10 s' });
    expect(clock.waits()).toEqual([]);
  });

  it('that closes the line, or is not there, may be better later; its address is not said', async () => {
    const url = await serve((request) => request.socket.destroy());
    expect(await channel(`${url}?token=hidden`).send(tidings(), never)).toEqual({ ok: false, again: true, reason: expect.not.stringContaining('hidden') });
    const [server] = open.splice(0);
    await new Promise<void>((resolve) => server?.close(() => resolve()));
    expect(await channel(`${url}?token=hidden`).send(tidings(), never)).toEqual({ ok: false, again: true, reason: expect.stringMatching(/^(?!.*hidden).*ECONNREFUSED/) });
  });
});
