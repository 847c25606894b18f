import { basename } from 'node:path';
import type { Surroundings } from './surroundings.ts';

export interface Process {
  readonly pid: number;
  /** The program's name, of which the kernel keeps 15 characters (proc(5)). */
  readonly name: string;
}

/** All processes that this user is shown; undefined where other users' ones are hidden (proc(5), `hidepid`): the first one is always another's. */
export async function processes(surroundings: Surroundings): Promise<readonly Process[] | undefined> {
  const pids = ((await surroundings.list('/proc')) ?? []).filter((name) => /^\d+$/.test(name));
  if (!pids.includes('1')) return undefined;
  const named = await Promise.all(pids.map(async (pid) => ({ pid: Number(pid), name: (await surroundings.readText(`/proc/${pid}/comm`))?.trim() })));
  // Whoever has ended meanwhile has no name.
  return named.flatMap(({ pid, name }) => (name === undefined ? [] : [{ pid, name }]));
}

/** Program and arguments as they were given. */
export async function commandOf(pid: number, surroundings: Surroundings): Promise<readonly string[]> {
  const text = (await surroundings.readText(`/proc/${pid}/cmdline`)) ?? '';
  return text.split('\0').filter((word) => word !== '');
}

/** Nightjar itself, started by its own name or through Node. */
export function isNightjar([program = '', script = '']: readonly string[]): boolean {
  const isOurs = (path: string): boolean => basename(path) === 'nightjar' || path.endsWith('daemon/bin.js');
  return isOurs(program) || (basename(program) === 'node' && isOurs(script));
}

/** Which of these devices a process has open; undefined where its files may not be seen. */
export async function openDevices(pid: number, devices: ReadonlySet<string>, surroundings: Surroundings): Promise<readonly string[] | undefined> {
  const files = await surroundings.list(`/proc/${pid}/fd`);
  if (!files) return undefined;
  const targets = await Promise.all(files.map((file) => surroundings.linkTarget(`/proc/${pid}/fd/${file}`)));
  return [...new Set(targets)].flatMap((target) => (target !== undefined && devices.has(target) ? [target] : []));
}
