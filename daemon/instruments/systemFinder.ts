import { constants } from 'node:fs';
import { access, realpath, stat } from 'node:fs/promises';
import { Socket } from 'node:net';
import { delimiter, join } from 'node:path';
import { listCameras } from '../../drivers/genicam/listCameras.ts';
import type { Clock } from '../../drivers/interfaces/index.ts';
import { listSerialPorts } from '../../drivers/line/ports.ts';
import type { Finder, Reach } from './finder.ts';

/** Long enough for any lab's network, short enough to wait for. */
const REACH_WITHIN_MS = 2000;

/** Node's codes of a connection that failed, as errno(3) and getaddrinfo(3) name them, in plain words. */
const reasons: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'nobody listens there',
  EHOSTUNREACH: 'no way to this host',
  ENETUNREACH: 'no way to this network',
  ENOTFOUND: 'no host of this name',
  EAI_AGAIN: 'the name could not be looked up',
  ETIMEDOUT: 'no answer',
};

function reasonOf(error: Error): string {
  const code = 'code' in error && typeof error.code === 'string' ? error.code : '';
  return reasons[code] ?? error.message;
}

async function reach(host: string, tcpPort: number, clock: Clock): Promise<Reach> {
  const socket = new Socket();
  const done = new AbortController();
  const tried = new Promise<Reach>((resolve) => {
    socket.once('connect', () => resolve({ ok: true }));
    // Stays on to the end: an error after the time limit has nobody else to go to.
    socket.on('error', (error) => resolve({ ok: false, reason: reasonOf(error) }));
    socket.connect({ host, port: tcpPort });
  });
  const late = clock.sleep(REACH_WITHIN_MS, done.signal).then(
    (): Reach => ({ ok: false, reason: `no answer within ${REACH_WITHIN_MS / 1000} s` }),
    (): Reach => ({ ok: false, reason: 'not tried to the end' }),
  );
  const outcome = await Promise.race([tried, late]);
  done.abort();
  socket.destroy();
  return outcome;
}

/** A folder may be entered by the same right by which a file may be run. */
async function isProgram(path: string): Promise<boolean> {
  const isFile = await stat(path).then((found) => found.isFile(), () => false);
  return isFile && access(path, constants.X_OK).then(() => true, () => false);
}

async function programAt(name: string): Promise<string | undefined> {
  const candidates = name.includes('/') ? [name] : (process.env.PATH ?? '').split(delimiter).map((folder) => join(folder, name));
  for (const path of candidates) {
    if (await isProgram(path)) return path;
  }
  return undefined;
}

/** Looks at this computer and its network. */
export function createSystemFinder(clock: Clock): Finder {
  return {
    cameras: () => listCameras(clock),
    serialPorts: () => listSerialPorts(),
    deviceAt: (path) => realpath(path).catch(() => undefined),
    reach: (host, tcpPort) => reach(host, tcpPort, clock),
    programAt,
  };
}
