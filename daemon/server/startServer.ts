import type { Clock } from '../../drivers/interfaces/index.ts';
import { NightjarError } from '../errors/index.ts';
import type { LinkBounds } from './browserLink.ts';
import { Door } from './door.ts';
import { hostAndPort, isHostName, isLoopback } from './doors.ts';
import type { OwnAddress } from './doors.ts';
import type { NightControls, NightFeed, NightPictures } from './feed.ts';
import { Hub } from './hub.ts';
import { createBoundedServer, HTTP_BOUNDS, listen } from './listening.ts';
import type { Certificate, HttpBounds } from './listening.ts';
import type { ServerLog } from './log.ts';
import { answerPage } from './pages.ts';
import type { PagesContext } from './pages.ts';
import { Patience } from './patience.ts';
import { startPulse } from './pulse.ts';
import type { Secrets } from './secrets.ts';
import type { TokenRecord } from './token.ts';
import { acceptBrowsers } from './upgrades.ts';

const PULSE_MS = 1000;

export interface ServerOptions {
  /** 127.0.0.1 when left out; on any other than a loopback address a token is needed, and a certificate unless `unencrypted`. */
  readonly host?: string;
  /** 0 takes a free port. */
  readonly port: number;
  /** What people call this computer; the first is in the address that is printed. */
  readonly names?: readonly string[];
  /** Reads what is kept of the token: whoever wants in gives it. Left out, whoever reaches the page is in. */
  readonly readToken?: () => Promise<TokenRecord | undefined>;
  readonly tls?: Certificate;
  /** Lets others read along: only for a network that nobody else is on. */
  readonly unencrypted?: boolean;
  readonly feed: NightFeed;
  readonly controls: NightControls;
  readonly pictures: NightPictures;
  /** Folder of the built page. */
  readonly uiDirectory: string;
  readonly log: ServerLog;
  /** The time that people live by. */
  readonly clock: Clock;
  readonly secrets: Secrets;
  /** When a browser counts as slow; for tests. */
  readonly bounds?: LinkBounds;
  /** What a connection may take its time for; for tests. */
  readonly httpBounds?: HttpBounds;
}

export interface RunningServer {
  /** Address of the page, to be printed. */
  readonly url: string;
  readonly port: number;
  close(): Promise<void>;
}

/** Throws `badUsage` or `needsTls` for what must not be opened. */
function checkDoor({ host = '127.0.0.1', names = [], readToken, tls, unencrypted = false }: ServerOptions): void {
  const odd = names.find((name) => !isHostName(name));
  if (odd !== undefined) throw new NightjarError('badUsage', { reason: `--name ${odd}: the name of a computer is wanted, like bench2.lab.example, without port or address` });
  if (isLoopback(host)) return;
  if (!tls && !unencrypted) throw new NightjarError('needsTls', { host });
  if (!readToken) throw new NightjarError('badUsage', { reason: `${host} can be reached from other computers, and no token is asked for: without one the page is for this computer only` });
}

function makeDoor({ readToken, secrets, log, clock }: ServerOptions): Door | undefined {
  return readToken ? new Door({ secrets, log, now: () => clock.now(), readToken }) : undefined;
}

/**
 * Opens the page and its websocket. Rejects with `badUsage` or `needsTls` for a door that must not be opened so, and with `portInUse`
 * when the port is taken. The night never waits for it: see browserLink.ts.
 */
export async function startServer(options: ServerOptions): Promise<RunningServer> {
  checkDoor(options);
  const { host = '127.0.0.1', names = [], feed, controls, pictures, uiDirectory, log, clock, secrets, tls, bounds } = options;
  const door = makeDoor(options);
  await door?.refresh();
  let own: OwnAddress = { scheme: tls ? 'https' : 'http', port: options.port, names: names.map((name) => name.toLowerCase()) };
  const shared = { log, own: () => own, ...(door ? { door } : {}) };
  const pages: PagesContext = { ...shared, uiDirectory, pictures, patience: new Patience(clock) };
  const server = createBoundedServer((request, response) => void answerPage(request, response, pages), tls, options.httpBounds ?? HTTP_BOUNDS);
  own = { ...own, port: await listen(server, host, options.port) };
  server.on('error', (error) => log.warn({ error: error.message }, 'the server stumbled'));
  const hub = new Hub({ feed, controls, log, secrets, now: () => clock.now(), ...(door ? { isIn: (session) => door.isIn(session) } : {}), ...(bounds ? { bounds } : {}) });
  acceptBrowsers(server, { ...shared, hub });
  const stopPulse = startPulse(clock, PULSE_MS, () => beat(hub, door), log);
  const close = async (): Promise<void> => {
    stopPulse();
    hub.close();
    const closed = new Promise<void>((resolve) => server.close(() => resolve()));
    server.closeAllConnections();
    await closed;
  };
  return { url: `${own.scheme}://${hostAndPort(names[0] ?? host, own)}/`, port: own.port, close };
}

async function beat(hub: Hub, door: Door | undefined): Promise<void> {
  await door?.refresh();
  hub.beat();
}
