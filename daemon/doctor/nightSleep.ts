import { advice, cannotBeTold, ok, toMend, type Finding } from './finding.ts';
import type { Examined, Surroundings } from './surroundings.ts';

const CHECK = 'sleep';
/** Where systemd.unit(5) looks for a mask: for good, and until the next start. */
const unitFolders: readonly string[] = ['/etc/systemd/system', '/run/systemd/system'];
/** The ways to sleep, as systemd.special(7) names them. All of them want sleep.target. */
const sleepTargets: readonly string[] = ['suspend.target', 'hibernate.target', 'hybrid-sleep.target'];
const MASK = `sudo systemctl mask sleep.target ${sleepTargets.join(' ')}`;

/** A unit is masked by a link to /dev/null (systemd.unit(5)). */
async function isMasked(unit: string, { linkTarget }: Surroundings): Promise<boolean> {
  const targets = await Promise.all(unitFolders.map((folder) => linkTarget(`${folder}/${unit}`)));
  return targets.includes('/dev/null');
}

async function cannotSleep(surroundings: Surroundings): Promise<boolean> {
  if (await isMasked('sleep.target', surroundings)) return true;
  const masked = await Promise.all(sleepTargets.map((unit) => isMasked(unit, surroundings)));
  return masked.every((each) => each);
}

/** Where logind.conf(5) looks, the later folder over the earlier one. */
const settingFolders: readonly string[] = ['/usr/lib/systemd', '/run/systemd', '/etc/systemd'];

/** logind's files in the order in which they are read: the main one, then the additions by their names, of which a later folder hides an earlier one's. */
async function logindFiles({ list }: Surroundings): Promise<readonly string[]> {
  const additions = new Map<string, string>();
  for (const folder of settingFolders) {
    const names = (await list(`${folder}/logind.conf.d`)) ?? [];
    for (const name of names.filter((each) => each.endsWith('.conf'))) additions.set(name, `${folder}/logind.conf.d/${name}`);
  }
  const inOrder = [...additions].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, path]) => path);
  return [...settingFolders.map((folder) => `${folder}/logind.conf`), ...inOrder];
}

/** The last setting counts. */
async function logindSetting(key: string, surroundings: Surroundings): Promise<string | undefined> {
  const texts = await Promise.all((await logindFiles(surroundings)).map(surroundings.readText));
  const values = texts.flatMap((text) => [...(text ?? '').matchAll(new RegExp(`^\\s*${key}\\s*=\\s*(\\S+)`, 'gm'))]);
  return values.at(-1)?.[1];
}

/** What logind does by itself when nobody has touched the computer for a while. */
function aboutIdle(action: string, masked: boolean): Finding | undefined {
  const sleeps = /^(suspend|hibernate|hybrid-sleep|sleep|suspend-then-hibernate)$/.test(action);
  const ends = /^(poweroff|halt|reboot|kexec)$/.test(action);
  if (!ends && (!sleeps || masked)) return undefined;
  return toMend(CHECK, `left alone, the computer does this: ${action} (IdleAction)`, 'set IdleAction=ignore in /etc/systemd/logind.conf, then sudo systemctl kill -s HUP systemd-logind');
}

async function aboutSleeping(surroundings: Surroundings): Promise<Finding> {
  const hasLid = ((await surroundings.list('/proc/acpi/button/lid')) ?? []).length > 0;
  const lid = hasLid ? `, and closing the lid does this: ${(await logindSetting('HandleLidSwitch', surroundings)) ?? 'suspend'}` : '';
  return advice(CHECK, `the desktop may put the computer to sleep in the night${lid}`, MASK);
}

/** Whether the computer stays awake all night with nobody at it: a sleeping one leaves the stage where it is and the lamp on. */
export async function checkSleep({ surroundings }: Examined): Promise<readonly Finding[]> {
  // The folder that says that systemd runs: sd_booted(3).
  if (!(await surroundings.facts('/run/systemd/system'))) return [cannotBeTold(CHECK, 'systemd does not run here', 'see that whatever manages power does not put the computer to sleep')];
  const masked = await cannotSleep(surroundings);
  const idle = aboutIdle((await logindSetting('IdleAction', surroundings)) ?? 'ignore', masked);
  if (idle) return [idle];
  return [masked ? ok(CHECK, 'the computer cannot go to sleep') : await aboutSleeping(surroundings)];
}
