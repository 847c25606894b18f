import { advice, cannotBeTold, ok, toMend, type Finding } from './finding.ts';
import type { Surroundings } from './surroundings.ts';

const CHECK = 'clock';
/** Older than the oldest Node that Nightjar runs on, 20.19 (from memory); a flat battery leaves 1970 or the board's own year. */
const FIRST_YEAR = 2025;
const LAST_YEAR = 2100;

/** What other time services leave in `/run` while they run: chrony, ntpd (by its two homes) and openntpd (from memory of Debian's packages). */
const otherServices: Readonly<Record<string, string>> = {
  '/run/chrony': 'chrony',
  '/run/ntpd.pid': 'ntpd',
  '/run/ntpsec': 'ntpsec',
  '/run/openntpd': 'openntpd',
};

/** As much of the computer as the time needs. */
type TimeSources = Pick<Surroundings, 'facts' | 'now'>;

async function otherService({ facts }: TimeSources): Promise<string | undefined> {
  for (const [trace, name] of Object.entries(otherServices)) if (await facts(trace)) return name;
  return undefined;
}

async function aboutService(surroundings: TimeSources, now: string): Promise<Finding> {
  // systemd-timesyncd(8) makes this file after its first answer from a server.
  if (await surroundings.facts('/run/systemd/timesync/synchronized')) return ok(CHECK, `${now}, synchronised by systemd-timesyncd`);
  const other = await otherService(surroundings);
  if (other !== undefined) return ok(CHECK, `${now}, kept by ${other}`);
  if (await surroundings.facts('/run/systemd/timesync')) return advice(CHECK, `${now}; systemd-timesyncd runs but has reached no server yet`, 'timedatectl timesync-status says which it asks; without a network compare the clock with another one');
  return cannotBeTold(CHECK, `${now}; no time service was seen`, 'compare it with another clock; with a network: sudo timedatectl set-ntp true');
}

/** Whether the computer's time can be true: it stands beside every tile, and drift is reckoned by it. */
export async function checkTimeOfDay({ surroundings }: { readonly surroundings: TimeSources }): Promise<readonly Finding[]> {
  const date = new Date(surroundings.now());
  const now = `${date.toISOString().slice(0, 16).replace('T', ' ')} UTC`;
  const year = date.getUTCFullYear();
  if (year >= FIRST_YEAR && year <= LAST_YEAR) return [await aboutService(surroundings, now)];
  return [toMend(CHECK, `${now}, which cannot be`, "sudo timedatectl set-ntp true, or without a network sudo timedatectl set-ntp false && sudo timedatectl set-time 'YYYY-MM-DD HH:MM:SS'")];
}
