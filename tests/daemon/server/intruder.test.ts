import { rm } from 'node:fs/promises';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { slowMachineMs } from '../../support/tinyNight.ts';
import { ask, cookieOf, rawLine, serveGuarded, stillClock } from './intruders.ts';
import type { Guarded } from './intruders.ts';
import { browse, openStatus } from './support.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: whoever has no token sees nothing and moves nothing, however they ask; and whoever had one is out when it is replaced. */

let at: Guarded | undefined;
afterEach(async () => {
  await at?.server.close();
  if (at) await rm(at.folder, { recursive: true, force: true });
  at = undefined;
});

async function open(...more: Parameters<typeof serveGuarded>): Promise<Guarded> {
  return (at = await serveGuarded(...more));
}

describe('without a token', () => {
  it('the first page is the door, and pictures, live picture and files are kept back', async () => {
    const { server } = await open();
    const door = await ask(server.port, '/');
    expect(door).toMatchObject({ status: 401, headers: { 'cache-control': 'no-store' } });
    expect(door.body).toContain('the door');
    for (const path of ['/pictures/tiles/000012.webp', '/live', '/door.html', '/nothing']) expect(await ask(server.port, path)).toMatchObject({ status: 401, body: expect.stringContaining('those who have its token') as unknown });
    expect((await ask(server.port, '/assets/page-abc123.js')).status).toBe(200);
  });

  it('no websocket opens: without a session, with a made-up one, with two', async () => {
    const { server, letIn } = await open();
    const cookie = await letIn();
    const name = cookie.split('=')[0] ?? '';
    for (const bad of [undefined, `${name}=`, `${name}=${'A'.repeat(43)}`, `${cookie}; ${name}=x`, `other=${cookie.split('=')[1] ?? ''}`]) {
      const status = await openStatus(browse(server.port, bad === undefined ? {} : { cookie: bad }));
      expect(status, bad ?? 'none').toBe(401);
    }
    const browser = browse(server.port, { cookie });
    expect(await openStatus(browser)).toBe(101);
    browser.socket.terminate();
  });

  it('a session does not open the websocket for another site’s page, nor for no page, nor under another name', async () => {
    const { server, letIn } = await open();
    const cookie = await letIn();
    for (const more of [{ origin: 'https://evil.example' }, { origin: 'none' }, { origin: 'null' }, { origin: `http://evil.example:${server.port}`, host: `evil.example:${server.port}` }]) {
      expect(await openStatus(browse(server.port, { cookie, ...more })), JSON.stringify(more)).toBe(403);
    }
  });

  it('a token in the address is never looked at and never written down', async () => {
    const { server, token, logged } = await open();
    expect((await ask(server.port, `/?token=${token}`)).status).toBe(401);
    expect((await ask(server.port, `/door?token=${token}`)).status).toBe(401);
    expect((await ask(server.port, '/', { headers: { authorization: `Bearer ${token}` } })).status).toBe(401);
    expect(logged.join('\n')).not.toContain(token);
  });
});

describe('giving the token', () => {
  it('opens a session with a cookie that no script and no other site can use, and logs neither', async () => {
    const { give, token, server, logged } = await open();
    const answer = await give(token);
    expect(answer.status).toBe(204);
    expect([answer.headers['set-cookie']].flat()).toEqual([expect.stringMatching(/^nightjar-\d+=[\w-]{43}; Path=\/; HttpOnly; SameSite=Strict$/)]);
    const cookie = cookieOf(answer);
    expect((await ask(server.port, '/', { headers: { cookie } })).body).toContain('the page');
    expect(logged.join('\n')).not.toContain(token);
    expect(logged.join('\n')).not.toContain(cookie.split('=')[1] ?? 'no session');
  });

  it('is refused from another site, from none, as a form, too long, and garbled', async () => {
    const { give, server, token, own } = await open();
    for (const origin of ['https://evil.example', 'null', `http://localhost:${server.port}`]) expect((await give(token, { origin })).status, origin).toBe(403);
    const post = (body: string, headers: Record<string, string>): ReturnType<typeof ask> => ask(server.port, '/door', { method: 'POST', body, headers });
    expect((await post(JSON.stringify({ token }), { 'content-type': 'application/json' })).status).toBe(403);
    for (const type of ['application/x-www-form-urlencoded', 'text/plain', 'multipart/form-data']) expect((await give(token, { 'content-type': type })).status, type).toBe(415);
    const json = { origin: own, 'content-type': 'application/json' };
    expect((await post(JSON.stringify({ token: 'x'.repeat(2000) }), json)).status).toBe(413);
    for (const body of ['', '{', '[]', '{"token":7}', '{"token":"a","more":1}', `{"__proto__":{"token":"${token}"}}`]) expect((await post(body, json)).status, body).toBe(400);
  });

  it('is slowed down after five wrong ones, says so, and is open again for the right one', async () => {
    const { clock, pass } = stillClock();
    const { give, token } = await open({ clock });
    const statuses = [];
    for (let i = 0; i < 8; i += 1) statuses.push((await give(`wrong ${i}`)).status);
    expect(statuses).toEqual([401, 401, 401, 401, 401, 429, 429, 429]);
    const slowed = await give(token);
    expect(slowed).toMatchObject({ status: 429, headers: { 'retry-after': '10' }, body: expect.stringContaining('Try again in 10 seconds.') as unknown });
    pass(10_000);
    expect((await give(token)).status).toBe(204);
  });

  it('does not keep a session that was brought along (fixation), and ends the one before', async () => {
    const { give, token, server } = await open();
    const first = cookieOf(await give(token));
    const name = first.split('=')[0] ?? '';
    const planted = `${name}=${'A'.repeat(43)}`;
    const second = cookieOf(await give(token, { cookie: planted }));
    expect(second).not.toBe(planted);
    expect((await ask(server.port, '/door', { headers: { cookie: planted } })).status).toBe(401);
    const third = cookieOf(await give(token, { cookie: second }));
    expect((await ask(server.port, '/door', { headers: { cookie: second } })).status).toBe(401);
    for (const cookie of [first, third]) expect((await ask(server.port, '/door', { headers: { cookie } })).status).toBe(204);
  });

  it('ends with it: a replaced token ends stolen sessions and open websockets, and so does leaving', async () => {
    const { letIn, server, replaceToken, own, calls } = await open();
    const left = await letIn();
    expect((await ask(server.port, '/door', { method: 'DELETE', headers: { cookie: left } })).status).toBe(403);
    expect((await ask(server.port, '/door', { method: 'DELETE', headers: { cookie: left, origin: own } })).headers['set-cookie']).toEqual([expect.stringContaining('Max-Age=0')]);
    expect((await ask(server.port, '/live', { headers: { cookie: left } })).status).toBe(401);
    const stolen = await letIn();
    const browser = browse(server.port, { cookie: stolen });
    await browser.until((m) => m.type === 'snapshot');
    await replaceToken();
    expect(await browser.closed).toBe(4401);
    expect((await ask(server.port, '/live', { headers: { cookie: stolen } })).status).toBe(401);
    expect(calls).toEqual([]);
  });
});

describe('what leaves the house', () => {
  it('is not to be kept by a browser that others sit at, and not to be framed, guessed at or scripted', async () => {
    const { letIn, server } = await open();
    const cookie = await letIn();
    for (const path of ['/pictures/tiles/000012.webp', '/live']) expect(await ask(server.port, path, { headers: { cookie } })).toMatchObject({ status: 200, headers: { 'cache-control': 'no-store' } });
    for (const path of ['/', '/live', '/nowhere', '/door', '/assets/page-abc123.js']) {
      const { headers } = await ask(server.port, path, { headers: { cookie } });
      expect(headers['content-security-policy'], path).toMatch(/^default-src 'none';.*frame-ancestors 'none'$/);
      expect(headers['content-security-policy']).not.toMatch(/unsafe|\*|data:|http/);
      expect(headers).toMatchObject({ 'x-content-type-options': 'nosniff', 'referrer-policy': 'no-referrer', 'cross-origin-opener-policy': 'same-origin', 'cross-origin-resource-policy': 'same-origin' });
      expect(headers['permissions-policy']).toContain('serial=()');
      expect(headers['strict-transport-security']).toBeUndefined();
      expect(headers['access-control-allow-origin']).toBeUndefined();
      expect(headers['x-powered-by']).toBeUndefined();
    }
  });

  it('repeats nothing of a request as a page', async () => {
    const { letIn, server } = await open();
    const cookie = await letIn();
    const script = '<script>alert(1)</script>';
    for (const answer of [await ask(server.port, `/${script}`, { headers: { cookie } }), await ask(server.port, '/', { headers: { cookie, host: script } })]) {
      expect(answer.headers).toMatchObject({ 'content-type': 'text/plain; charset=utf-8', 'x-content-type-options': 'nosniff' });
      expect(answer.status).toBeGreaterThanOrEqual(400);
    }
  });

  it('answers no method but those it has, and tells no other origin that it may ask', async () => {
    const { letIn, server } = await open();
    const cookie = await letIn();
    for (const method of ['POST', 'PUT', 'DELETE', 'HEAD', 'OPTIONS', 'TRACE', 'PATCH']) expect((await ask(server.port, '/', { method, headers: { cookie } })).status, method).toBe(405);
    expect((await ask(server.port, '/door', { method: 'OPTIONS', headers: { origin: 'https://evil.example', 'access-control-request-method': 'POST' } })).headers['access-control-allow-origin']).toBeUndefined();
  });
});

describe('paths', () => {
  const climbs = ['..', '%2e%2e', '%252e%252e', '.%2e', '..%00', '..;', '%c0%ae%c0%ae', '..\\', '..%5c'];
  it.each(['/pictures/', '/', '/assets/'])('lead nowhere outside from %s', async (prefix) => {
    const { letIn, server } = await open();
    const cookie = await letIn();
    const names = [...climbs.flatMap((climb) => [`${climb}/secret.txt`, `x/${climb}/${climb}/secret.txt`, `${climb}%2fsecret.txt`]), '/etc/passwd', '%2fetc%2fpasswd', 'file:///etc/passwd', 'C:%5csecret.txt', 'tiles/000012.webp%00.txt', './secret.txt', 'link.webp', 'linked/secret.txt'];
    for (const name of names) {
      const answer = await ask(server.port, `${prefix}${name}`, { headers: { cookie } });
      expect(answer.status, name).toBe(404);
      expect(answer.body, name).not.toMatch(/^secret$|root:/m);
    }
  });

  it('in the form that proxies use do not get round the door', async () => {
    const { server } = await open();
    const { said } = rawLine(server.port, `GET http://127.0.0.1:${server.port}/live HTTP/1.1\r\nHost: 127.0.0.1:${server.port}\r\nConnection: close\r\n\r\n`);
    expect(await said).toMatch(/^HTTP\/1\.1 40[14] /);
    const { said: connect } = rawLine(server.port, `CONNECT evil.example:443 HTTP/1.1\r\nHost: evil.example:443\r\n\r\n`);
    expect(await connect).not.toContain('200');
  });
});
