import { namedPorts } from '../instruments/wanted.ts';
import type { Finder } from '../instruments/finder.ts';
import { checkDataFolder } from './dataFolder.ts';
import type { Finding } from './finding.ts';
import { checkMemory } from './memory.ts';
import { checkNetworkBuffer, checkNetworkPackets } from './network.ts';
import { checkSleep } from './nightSleep.ts';
import { checkPortGrabbers } from './portGrabbers.ts';
import { checkPortHolders } from './portHolders.ts';
import { checkSerialRights, checkUser } from './serialRights.ts';
import { checkCameraLibrary, checkNode } from './software.ts';
import type { Check, Examined, ExaminedPort, Surroundings } from './surroundings.ts';
import { checkTimeOfDay } from './timeOfDay.ts';

/** In the order in which they are told. */
const checks: readonly Check[] = [
  checkUser,
  checkSerialRights,
  checkPortHolders,
  checkPortGrabbers,
  checkCameraLibrary,
  checkNetworkBuffer,
  checkNetworkPackets,
  checkNode,
  checkDataFolder,
  checkMemory,
  checkTimeOfDay,
  checkSleep,
];

export type Patient = Pick<Examined, 'instrument' | 'dataFolder' | 'packageFile'>;

/** Ports that the instrument file names, then others that are plugged in, each device once. */
async function portsOf({ instrument }: Patient, plugged: Examined['plugged'], { realPath }: Surroundings): Promise<readonly ExaminedPort[]> {
  const named = await Promise.all((instrument ? namedPorts(instrument) : []).map(async (each) => ({ ...each, device: await realPath(each.port) })));
  const others = plugged.filter(({ device }) => named.every((each) => each.device !== device));
  return [...named, ...others.map(({ name, device }) => ({ port: name, devices: [], device }))];
}

/** Runs every check and hands back what they found. Nothing is changed, opened or sent, but for a call for cameras. */
export async function examine(patient: Patient, surroundings: Surroundings, finder: Pick<Finder, 'cameras' | 'serialPorts'>): Promise<readonly Finding[]> {
  const [cameras, plugged] = await Promise.all([finder.cameras(), finder.serialPorts()]);
  const examined: Examined = { ...patient, surroundings, cameras, plugged, ports: await portsOf(patient, plugged, surroundings) };
  return (await Promise.all(checks.map((check) => check(examined)))).flat();
}

/** Whether nothing stands in the way of a night. */
export function isFit(findings: readonly Finding[]): boolean {
  return findings.every(({ verdict }) => verdict !== 'toMend');
}
