import { advice, cannotBeTold, ok, toMend, type Finding } from './finding.ts';
import { commandOf, isNightjar, openDevices, processes, type Process } from './processes.ts';
import type { Examined, ExaminedPort, Surroundings } from './surroundings.ts';

const CHECK = 'port in use';
/** Of a command line, so that a finding stays one line. */
const MOST_SHOWN = 80;

interface Holder extends Process {
  readonly command: readonly string[];
}

interface Holders {
  readonly byDevice: ReadonlyMap<string, readonly Holder[]>;
  /** Processes of other users, whose open files may not be seen. */
  readonly unseen: number;
}

async function holdersOf(devices: ReadonlySet<string>, surroundings: Surroundings): Promise<Holders | undefined> {
  const all = await processes(surroundings);
  if (!all) return undefined;
  const byDevice = new Map<string, readonly Holder[]>();
  let unseen = 0;
  for (const process of all) {
    const open = await openDevices(process.pid, devices, surroundings);
    if (!open) unseen++;
    for (const device of open ?? []) byDevice.set(device, [...(byDevice.get(device) ?? []), { ...process, command: await commandOf(process.pid, surroundings) }]);
  }
  return { byDevice, unseen };
}

function heldText(port: string, { name, pid, command }: Holder): string {
  const words = command.join(' ');
  return `${port} is held by ${name} (process ${pid}${words === '' ? '' : `: ${words.length > MOST_SHOWN ? `${words.slice(0, MOST_SHOWN)}...` : words}`})`;
}

function aboutPort({ port, devices }: ExaminedPort, device: string, holders: Holders | undefined): readonly Finding[] {
  const holding = holders?.byDevice.get(device) ?? [];
  const others = holding.filter(({ command }) => !isNightjar(command));
  if (others.length > 0) {
    const judge = devices.length > 0 ? toMend : advice;
    return others.map((holder) => judge(CHECK, heldText(port, holder), `end that program first (by its own means, else kill ${holder.pid})`));
  }
  if (holding.length > 0) return [ok(CHECK, `${port} is held by Nightjar itself (process ${holding.map(({ pid }) => pid).join(', ')})`)];
  if (!holders || holders.unseen > 0) return [cannotBeTold(CHECK, `${port} is held by no program of this user; those of others may not be looked at`, `sudo fuser -v ${device}`)];
  return [ok(CHECK, `${port} is free`)];
}

/** Which program has a serial port open: two that read from one line take each other's answers. */
export async function checkPortHolders({ surroundings, ports }: Examined): Promise<readonly Finding[]> {
  const there = ports.flatMap((port) => (port.device === undefined ? [] : [{ port, device: port.device }]));
  if (there.length === 0) return [];
  const holders = await holdersOf(new Set(there.map(({ device }) => device)), surroundings);
  return there.flatMap(({ port, device }) => aboutPort(port, device, holders));
}
