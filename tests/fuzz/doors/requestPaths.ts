import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join, resolve, sep } from 'node:path';
import fc from 'fast-check';
import { absoluteFile } from '../../../daemon/records/layout.ts';
import { nameInPath, pathInside } from '../../../daemon/server/files.ts';
import { startServer } from '../../../daemon/server/index.ts';
import { contentOf } from '../folder.ts';
import { anyText, oddText } from '../hostile.ts';
import { hold, trial, type Door } from '../law.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';

const SECRET = 'kept from everybody';
const part = fc.oneof(
  fc.constantFrom('..', '.', '', '%2e%2e', '%2E.', '..%2f', '%5c', '\\', '%00', '%', '%zz', '%c0%ae', '%252e%252e', 'assets', 'pictures', 'runs', 'secret.txt', 'index.html', '.hidden', 'link', 'live', 'C:', '%ff', '?', '#', ';', '//', '~', 'x'.repeat(3000)),
  oddText,
);
const path = fc.tuple(fc.constantFrom('/', '/pictures/', '/assets/', '', '//', 'http://127.0.0.1/'), fc.array(part, { maxLength: 6 })).map(([head, parts]) => head + parts.join('/'));

/** No name leads out of a folder, however it is written. */
function stay(text: string): void {
  const root = resolve('/srv/nightjar/ui');
  const name = nameInPath(text, '/');
  const file = name === undefined ? undefined : pathInside(root, name);
  hold(file === undefined || (file.startsWith(root + sep) && !file.split(sep).includes('..')), 'a page lies in its folder');
  const ofRecords = absoluteFile(root, text);
  hold(ofRecords === undefined || resolve(ofRecords).startsWith(root + sep), 'a file of the records lies in their folder');
}

/** All that is answered until the server closes; half a request is left to itself for so long. */
const PATIENCE_MS = 2000;

function answerTo(port: number, request: Uint8Array): Promise<string> {
  return new Promise((end) => {
    const socket = connect(port, '127.0.0.1');
    let heard = '';
    socket.on('data', (bytes) => (heard += bytes.toString('latin1')));
    socket.on('error', () => end(heard));
    socket.on('close', () => end(heard));
    socket.setTimeout(PATIENCE_MS, () => socket.destroy());
    socket.write(request);
  });
}

const method = fc.constantFrom('GET', 'GET', 'GET', 'POST', 'HEAD', 'get', 'CONNECT', 'OPTIONS', '');
const header = fc.oneof(fc.constantFrom('', 'Upgrade: websocket\r\nConnection: Upgrade\r\n', 'Content-Length: 99999999999\r\n', 'Transfer-Encoding: chunked\r\n', 'Expect: 100-continue\r\n', `X: ${'y'.repeat(20_000)}\r\n`, 'Host: other\r\n', 'Range: bytes=0-\r\n'), oddText.map((text) => `X: ${text}\r\n`));
const encodings = ['latin1', 'utf8'] as const;

/** Requests to a real server, byte by byte: each is answered or refused, the secret beside the page is never told, and the next one is served. */
async function ask(requests: readonly Request[]): Promise<void> {
  const top = mkdtempSync(join(tmpdir(), 'nightjar-fuzz-'));
  const ui = join(top, 'ui');
  mkdirSync(join(ui, '.hidden'), { recursive: true });
  writeFileSync(join(ui, 'index.html'), 'the page');
  writeFileSync(join(ui, '.hidden', 'secret.txt'), SECRET);
  writeFileSync(join(top, 'secret.txt'), SECRET);
  symlinkSync(join(top, 'nowhere'), join(ui, 'link'));
  const before = contentOf(join(ui, '.hidden'));
  const act = async (): Promise<void> => undefined;
  const server = await startServer({
    port: 0, uiDirectory: ui, log: { info: () => undefined, warn: () => undefined },
    feed: { snapshot: () => ({ run: null, tiles: [], flakes: [], progress: null, events: [] }), rest: () => [], subscribe: () => () => undefined },
    controls: { goToFlake: act, endLive: act, pause: act, goOn: act, stop: act, giveVerdict: act, withdrawVerdict: act, nextToJudge: async () => undefined },
    clock: createSystemClock(), secrets: systemSecrets,
    pictures: { directory: ui, file: (name) => absoluteFile(ui, name), live: () => undefined },
  });
  try {
    for (const wanted of requests) {
      const heard = await answerTo(server.port, bytesOf(wanted, server.port));
      hold(heard === '' || /^HTTP\/1\.1 (200|400|403|404|405|408|413|417|421|426|431|501)/.test(heard), `it is answered: ${heard.slice(0, 100)}`);
      hold(!heard.includes(SECRET), 'what is not for pages stays there');
    }
    const heard = await answerTo(server.port, Buffer.from(`GET / HTTP/1.1\r\nHost: 127.0.0.1:${server.port}\r\nConnection: close\r\n\r\n`));
    hold(heard.startsWith('HTTP/1.1 200') && heard.endsWith('the page'), 'the next one is served');
    hold(contentOf(join(ui, '.hidden')) === before, 'nothing is written');
  } finally {
    await server.close();
    rmSync(top, { recursive: true, force: true });
  }
}

/** A request as text, with the port's place held, or bytes that are none. */
type Request = Uint8Array | { readonly text: string; readonly encoding: (typeof encodings)[number] };
const PORT = '<port>';

function bytesOf(wanted: Request, port: number): Uint8Array {
  return 'text' in wanted ? Buffer.from(wanted.text.replaceAll(PORT, String(port)), wanted.encoding) : wanted;
}

const request: fc.Arbitrary<Request> = fc.oneof(
  { weight: 4, arbitrary: fc.record({ text: fc.tuple(method, path, header).map(([verb, at, more]) => `${verb} ${at} HTTP/1.1\r\nHost: 127.0.0.1:${PORT}\r\nConnection: close\r\n${more}\r\n`), encoding: fc.constantFrom(...encodings) }) },
  { weight: 1, arbitrary: fc.uint8Array({ maxLength: 300 }).map((bytes) => Buffer.concat([bytes, Buffer.from('\r\n\r\n')])) },
);

export const requestPaths: Door = {
  name: 'paths of requests',
  trials: [
    trial('any path', fc.oneof(path, anyText.map((text) => `/${text}`), anyText), stay, 6),
    trial('requests to the server', fc.array(request, { minLength: 1, maxLength: 12 }), ask, 0.1),
  ],
};
