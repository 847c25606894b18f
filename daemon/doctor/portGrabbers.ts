import { advice, cannotBeTold, ok, type Finding } from './finding.ts';
import { processes } from './processes.ts';
import type { Examined } from './surroundings.ts';

const CHECK = 'serial services';

/** Services that try every serial port that is plugged in for a device of theirs (common practice, no source). */
const grabbers: Readonly<Record<string, string>> = {
  ModemManager: 'speaks to newly plugged ports in search of a modem',
  brltty: 'takes some USB adapters for Braille displays and keeps their ports',
};

/** Whether a service runs that may take a controller's port, or say words to it that the controller does not know. */
export async function checkPortGrabbers({ surroundings }: Examined): Promise<readonly Finding[]> {
  const all = await processes(surroundings);
  if (!all) return [cannotBeTold(CHECK, 'the programs of other users are hidden', `systemctl is-active ${Object.keys(grabbers).join(' ')}`)];
  const running = Object.entries(grabbers).filter(([name]) => all.some((process) => process.name === name));
  if (running.length === 0) return [ok(CHECK, `neither ${Object.keys(grabbers).join(' nor ')} runs`)];
  return running.map(([name, does]) => advice(CHECK, `${name} runs: it ${does}`, `where nobody needs it: sudo systemctl disable --now ${name}`));
}
