import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import { createSocket } from 'node:dgram';
import { once } from 'node:events';
import { bind } from '../../../drivers/genicam/fallible.ts';
import { LIBRARY } from '../../../drivers/genicam/messages.ts';

/** Debian's fake GigE Vision camera, of the package aravis-tools. */
const PROGRAM = 'arv-fake-gv-camera-0.8';
/** The control port of GigE Vision, of which an address has one (from memory; `ss -lunp` beside the fake shows it). */
const CONTROL_PORT = 3956;

function hasLibrary(): boolean {
  try {
    bind(LIBRARY);
    return true;
  } catch {
    return false;
  }
}

/** The control port of this computer is free: another fake camera would take our packets. */
async function isPortFree(): Promise<boolean> {
  const socket = createSocket('udp4');
  const bound = once(socket, 'listening').then(() => true, () => false);
  socket.bind({ port: CONTROL_PORT, address: '127.0.0.1', exclusive: true });
  const isFree = await bound;
  if (isFree) socket.close();
  return isFree;
}

/** Why there can be no fake camera here, in a sentence; undefined when there can. */
export async function whyNoFakeCamera(): Promise<string | undefined> {
  if (!hasLibrary()) return 'The library libaravis-0.8-0 is not installed: the GenICam camera is not tested here.';
  if (spawnSync(PROGRAM, ['--help'], { timeout: 5000 }).status !== 0) return 'The fake camera of aravis-tools is not installed: the GenICam camera is not tested here.';
  if (!(await isPortFree())) return 'Another program uses the port of the fake camera: the GenICam camera is not tested here.';
  return undefined;
}

/** A running fake camera on loopback; ends with `kill`. */
export function startFakeCamera(serial: string): ChildProcess {
  return spawn(PROGRAM, ['-i', '127.0.0.1', '-s', serial], { stdio: 'ignore' });
}
