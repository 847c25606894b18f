import { execFile } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { request } from 'node:http';
import { request as tlsRequest } from 'node:https';
import { connect } from 'node:net';
import type { Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import type { ServerOptions } from '../../../daemon/server/index.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import type { Clock } from '../../../drivers/interfaces/index.ts';
import { makeToken, recordOf } from '../../../daemon/server/token.ts';
import type { TokenRecord } from '../../../daemon/server/token.ts';
import { serve } from './support.ts';
import type { Served } from './support.ts';

/** The real cost of a guess is tested by itself: it would only slow these down. */
const QUICK = { N: 16_384, r: 1, p: 1 };

export interface Answer {
  readonly status: number;
  readonly body: string;
  readonly headers: NodeJS.Dict<string | string[]>;
}

export interface Ask {
  readonly method?: string;
  readonly headers?: Readonly<Record<string, string>>;
  readonly body?: string;
  /** Over TLS, whoever signed the certificate. */
  readonly tls?: boolean;
}

/** One request with its path as it is written; fetch would tidy it before it left. */
export function ask(port: number, path: string, { method = 'GET', headers = {}, body, tls = false }: Ask = {}): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const options = { host: '127.0.0.1', port, path, method, headers: { ...headers }, agent: false as const };
    const asked = (tls ? tlsRequest({ ...options, rejectUnauthorized: false }) : request(options)).on('response', (response) => {
      let said = '';
      response.on('data', (part: Buffer) => (said += part.toString()));
      response.on('end', () => resolve({ status: response.statusCode ?? 0, body: said, headers: response.headers }));
    });
    asked.on('error', reject);
    asked.end(body);
  });
}

export interface Guarded extends Served {
  readonly token: string;
  readonly own: string;
  /** Gives a token as the door page does; other headers in place of some. */
  give(token: string, headers?: Readonly<Record<string, string>>): Promise<Answer>;
  /** The cookie of a new session, as a browser sends it. */
  letIn(): Promise<string>;
  /** Puts another token in place. */
  replaceToken(): Promise<void>;
}

/** A server that asks for a token, on loopback: what an intruder meets from outside. */
export async function serveGuarded(more: Partial<ServerOptions> = {}): Promise<Guarded> {
  const token = makeToken(systemSecrets);
  let record: TokenRecord = await recordOf(token, systemSecrets, 0, QUICK);
  const served = await serve({ readToken: async () => record, ...more });
  const { port } = served.server;
  const own = `${more.tls ? 'https' : 'http'}://127.0.0.1:${port}`;
  const give: Guarded['give'] = (given, headers = {}) =>
    ask(port, '/door', { method: 'POST', body: JSON.stringify({ token: given }), headers: { origin: own, 'content-type': 'application/json', ...headers }, tls: more.tls !== undefined });
  const letIn = async (): Promise<string> => cookieOf(await give(token));
  const replaceToken = async (): Promise<void> => {
    record = await recordOf(makeToken(systemSecrets), systemSecrets, 1, QUICK);
  };
  return { ...served, token, own, give, letIn, replaceToken };
}

/** What a browser would send back of an answer's cookie. */
export function cookieOf({ headers }: Answer): string {
  const [set = ''] = [headers['set-cookie'] ?? []].flat();
  return set.split(';')[0] ?? '';
}

/** A clock that stands until it is told to pass; whoever sleeps by it wakes only to an end. */
export function stillClock(): { readonly clock: Clock; pass(ms: number): void } {
  let nowMs = 1e12;
  const sleep: Clock['sleep'] = (_, signal) => new Promise((_resolve, reject) => signal?.addEventListener('abort', () => reject(new Error('ended')), { once: true }));
  return { clock: { now: () => nowMs, sleep, track: (operation) => operation }, pass: (ms) => void (nowMs += ms) };
}

/** A raw line to the server; `said` resolves with all that came when it was closed. */
export function rawLine(port: number, text: string): { readonly socket: Socket; readonly said: Promise<string> } {
  const socket = connect({ port, host: '127.0.0.1', allowHalfOpen: true });
  socket.write(text);
  const said = new Promise<string>((resolve) => {
    let all = '';
    socket.on('data', (part: Buffer) => (all += part.toString('latin1')));
    socket.on('end', () => socket.end());
    socket.on('error', () => undefined);
    socket.on('close', () => resolve(all));
  });
  return { socket, said };
}

const run = promisify(execFile);

/** A certificate of our own for `bench2.lab.example` and 127.0.0.1, made by openssl, in a folder that is gone afterwards. */
export class Certificates {
  private readonly folders: string[] = [];

  async make({ days = 2 }: { readonly days?: number } = {}): Promise<{ readonly certificateFile: string; readonly keyFile: string }> {
    const folder = await mkdtemp(join(tmpdir(), 'nightjar-certificate-'));
    this.folders.push(folder);
    const [certificateFile, keyFile] = [join(folder, 'cert.pem'), join(folder, 'key.pem')];
    const names = 'subjectAltName=DNS:bench2.lab.example,IP:127.0.0.1';
    await run('openssl', ['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-keyout', keyFile, '-out', certificateFile, '-days', String(days), '-subj', '/CN=bench2.lab.example', '-addext', names]);
    return { certificateFile, keyFile };
  }

  async clear(): Promise<void> {
    for (const folder of this.folders.splice(0)) await rm(folder, { recursive: true, force: true });
  }
}
