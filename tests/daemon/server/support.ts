import { mkdtemp, mkdir, rm, symlink, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { WebSocket } from 'ws';
import { startServer } from '../../../daemon/server/index.ts';
import type { FeedMessage, NightControls, NightFeed, RunningServer, ServerOptions } from '../../../daemon/server/index.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import type { ServerMessage } from '../../../daemon/server/messages.ts';
import { NightjarError } from '../../../daemon/errors/index.ts';
import { absoluteFile } from '../../../daemon/records/layout.ts';

export interface Served {
  readonly server: RunningServer;
  readonly calls: string[];
  readonly logged: string[];
  readonly folder: string;
  tell(message: FeedMessage): void;
  listeners(): number;
}

/** A night with nothing in it. */
function emptyFeed(listeners: Set<(message: FeedMessage) => void>): NightFeed {
  return {
    snapshot: () => ({ run: null, tiles: [], flakes: [], progress: null, events: [] }),
    rest: () => [],
    subscribe: (listener) => {
      listeners.add(listener);
      return () => void listeners.delete(listener);
    },
  };
}

/** A server over a night with nothing in it, with a page, one picture and a secret beside the page's folder; opened as `more` says. */
export async function serve(more: Partial<ServerOptions> = {}): Promise<Served> {
  const folder = await mkdtemp(join(tmpdir(), 'nightjar-server-'));
  await mkdir(join(folder, 'ui', 'assets'), { recursive: true });
  await mkdir(join(folder, 'ui', '.hidden'));
  await writeFile(join(folder, 'ui', 'index.html'), '<!doctype html><title>the page</title>');
  await writeFile(join(folder, 'ui', 'door.html'), '<!doctype html><title>the door</title>');
  await writeFile(join(folder, 'ui', 'assets', 'page-abc123.js'), 'export {};');
  await writeFile(join(folder, 'ui', '.hidden', 'file.txt'), 'hidden');
  await writeFile(join(folder, 'secret.txt'), 'secret');
  const data = join(folder, 'data');
  await mkdir(data);
  await writeFile(join(data, 'tile.webp'), 'not really a picture');
  await symlink(join(folder, 'secret.txt'), join(data, 'link.webp'));
  await symlink(folder, join(data, 'linked'));
  const listeners = new Set<(message: FeedMessage) => void>();
  const calls: string[] = [];
  const logged: string[] = [];
  const feed = emptyFeed(listeners);
  const note = (name: string) => async () => void calls.push(name);
  const controls: NightControls = {
    preflight: { isChecking: false, checkAgain: note('checkAgain'), startNight: note('startNight'), stop: note('stopChecks') },
    goToFlake: async (flakeId) => {
      calls.push(`goToFlake ${flakeId}`);
      if (flakeId === 'none') throw new NightjarError('noSuchFlake', { flakeId });
    },
    endLive: note('endLive'),
    pause: note('pause'),
    goOn: note('goOn'),
    stop: note('stop'),
    giveVerdict: async (given) => void calls.push(`giveVerdict ${JSON.stringify(given)}`),
    nextToJudge: async (initials) => {
      calls.push(`nextToJudge ${initials}`);
      return initials === 'n.n.' ? undefined : 'K-07-3';
    },
    withdrawVerdict: async (flakeId, terrace) => void calls.push(`withdrawVerdict ${flakeId} ${terrace}`),
  };
  const pictures = {
    directory: data,
    file: (name: string) => (name === 'tiles/000012.webp' ? join(data, 'tile.webp') : absoluteFile(data, name)),
    live: () => ({ bytes: new Uint8Array([1, 2, 3]), type: 'image/webp' }),
  };
  const write = (details: unknown, text: string) => void logged.push(`${text} ${JSON.stringify(details)}`);
  const served = startServer({ port: 0, feed, controls, pictures, uiDirectory: join(folder, 'ui'), log: { info: write, warn: write }, clock: createSystemClock(), secrets: systemSecrets, ...more });
  // Who is refused has no folder to remove.
  const server = await served.catch(async (error: unknown) => {
    await rm(folder, { recursive: true });
    throw error;
  });
  return { server, calls, logged, folder, tell: (message) => listeners.forEach((listener) => listener(message)), listeners: () => listeners.size };
}

export interface Browser {
  readonly socket: WebSocket;
  readonly messages: ServerMessage[];
  /** Resolves with the first message, past or to come, that fits. */
  until(fits: (message: ServerMessage) => boolean): Promise<ServerMessage>;
  send(value: unknown): void;
  closed: Promise<number>;
}

/** Opens the websocket as a page of this server would, or with other headers. */
export function browse(port: number, options: { readonly origin?: string; readonly host?: string; readonly path?: string; readonly cookie?: string } = {}): Browser {
  const { origin = `http://127.0.0.1:${port}`, host, path = '/night', cookie } = options;
  const headers = { ...(origin === 'none' ? {} : { origin }), ...(host === undefined ? {} : { host }), ...(cookie === undefined ? {} : { cookie }) };
  const socket = new WebSocket(`ws://127.0.0.1:${port}${path}`, { headers });
  const messages: ServerMessage[] = [];
  const waiting = new Set<() => void>();
  socket.on('message', (data) => {
    messages.push(JSON.parse(data.toString()));
    waiting.forEach((look) => look());
  });
  const failed = new Promise<never>((_, reject) => socket.on('error', reject));
  failed.catch(() => undefined);
  const closed = new Promise<number>((resolve) => socket.on('close', resolve));
  const until = (fits: (message: ServerMessage) => boolean): Promise<ServerMessage> =>
    Promise.race([failed, new Promise<ServerMessage>((resolve) => {
      const look = (): void => {
        const found = messages.find(fits);
        if (!found) return;
        waiting.delete(look);
        resolve(found);
      };
      waiting.add(look);
      look();
    })]);
  return { socket, messages, until, closed, send: (value) => socket.send(typeof value === 'string' ? value : JSON.stringify(value)) };
}

/** The HTTP status with which a websocket is refused, or 101 when it opens. */
export function openStatus(browser: Browser): Promise<number> {
  return new Promise((resolve, reject) => {
    browser.socket.on('open', () => resolve(101));
    browser.socket.on('unexpected-response', (_, response) => {
      resolve(response.statusCode ?? 0);
      response.destroy();
    });
    browser.socket.on('error', reject);
  });
}
