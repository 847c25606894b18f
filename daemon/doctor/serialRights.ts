import { advice, cannotBeTold, ok, toMend, type Finding } from './finding.ts';
import type { Examined, ExaminedPort, FileFacts, Surroundings } from './surroundings.ts';
import { groups, isRoot, userName, type Group } from './users.ts';

const CHECK = 'serial port';
/** Read and write for the group (chmod(1)). */
const GROUP_RW = 0o060;

/** Groups that distributions give their serial ports to: Debian and its kin, Arch and its kin (common practice). */
const serialGroups: readonly string[] = ['dialout', 'uucp'];

const joining = (group: string, user: string): string => `sudo usermod -aG ${group} ${user}, then log out and in again`;

/** A rule for ports that no group may use, in the words of udev(7). */
const udevRule = `echo 'SUBSYSTEM=="tty", KERNEL=="ttyUSB*|ttyACM*", GROUP="dialout", MODE="0660"' | sudo tee /etc/udev/rules.d/60-serial-ports.rules, then plug it in anew`;

function called({ port, devices }: ExaminedPort): string {
  return devices.length === 0 ? port : `${port} (${devices.join(', ')})`;
}

async function refusal(name: string, device: string, facts: FileFacts, surroundings: Surroundings): Promise<Finding> {
  const group = (await groups(surroundings)).find(({ gid }) => gid === facts.gid);
  const user = await userName(surroundings);
  const groupName = group?.name ?? String(facts.gid);
  if (facts.gid === 0 || (facts.mode & GROUP_RW) !== GROUP_RW) return toMend(CHECK, `${name} may be opened by no group that ${user} could join (group ${groupName}, mode ${facts.mode.toString(8)})`, udevRule);
  if (surroundings.user.groups.includes(facts.gid)) return toMend(CHECK, `${name} may not be opened by ${user}, although in group ${groupName}`, `look what forbids it: ls -l ${device}; getfacl ${device}`);
  if (group?.members.includes(user)) return toMend(CHECK, `${name} may not be opened yet: ${user} has joined group ${groupName} since logging in`, 'log out and in again');
  return toMend(CHECK, `${name} may not be opened: it belongs to group ${groupName}, which ${user} is not in`, joining(groupName, user));
}

async function aboutPort(port: ExaminedPort, { surroundings, plugged }: Examined): Promise<Finding> {
  const name = called(port);
  if (port.device === undefined) {
    const there = plugged.map((each) => each.name).join(', ');
    return toMend(CHECK, `${name} is not there; plugged in: ${there === '' ? 'none' : there}`, 'look at its plug and power, or write into the instrument file what `nightjar instruments` lists');
  }
  const facts = await surroundings.facts(port.device);
  if (!facts) return cannotBeTold(CHECK, `${name}: nothing can be read of ${port.device}`, `ls -l ${port.device}`);
  if (facts.kind !== 'characterDevice') return toMend(CHECK, `${name} is no serial port`, 'write into the instrument file what `nightjar instruments` lists');
  if (!(await surroundings.may('readAndWrite', port.device))) return refusal(name, port.device, facts, surroundings);
  const stable = plugged.find((each) => each.isStable && each.device === port.device);
  if (stable && port.port === port.device) return advice(CHECK, `${name} may be opened, but is called otherwise when plugged in elsewhere`, `write its stable name into the instrument file: ${stable.name}`);
  return ok(CHECK, `${name} may be opened`);
}

/** Nothing is plugged in: whether this user may open what will be. */
async function aboutGroups(surroundings: Surroundings): Promise<Finding> {
  if (isRoot(surroundings)) return ok(CHECK, 'none is plugged in; root may open any');
  const known = (await groups(surroundings)).filter(({ name }) => serialGroups.includes(name));
  const joined = known.find(({ gid }) => surroundings.user.groups.includes(gid));
  const user = await userName(surroundings);
  if (joined) return ok(CHECK, `none is plugged in; ${user} is in group ${joined.name}, to which they belong`);
  return known[0] ? withoutGroup(known[0], user) : cannotBeTold(CHECK, 'none is plugged in, and no group is known to which they would belong', 'plug one in and run this again');
}

function withoutGroup(group: Group, user: string): Finding {
  if (group.members.includes(user)) return advice(CHECK, `none is plugged in; ${user} has joined group ${group.name} since logging in`, 'log out and in again');
  return advice(CHECK, `none is plugged in; they belong to group ${group.name}, which ${user} is not in`, joining(group.name, user));
}

/** Whether the serial ports that are named or plugged in are there, and may be opened by this user. None is opened: many controllers reset when one is. */
export async function checkSerialRights(examined: Examined): Promise<readonly Finding[]> {
  if (examined.ports.length === 0) return [await aboutGroups(examined.surroundings)];
  return Promise.all(examined.ports.map((port) => aboutPort(port, examined)));
}

/** What root finds says nothing of others. */
export async function checkUser({ surroundings }: Examined): Promise<readonly Finding[]> {
  const name = await userName(surroundings);
  if (!isRoot(surroundings)) return [ok('user', name)];
  return [advice('user', `${name}, who may do everything: what is said here of rights holds for no other user`, 'run this, and Nightjar, as the user who works at the microscope')];
}
