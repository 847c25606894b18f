import type { CameraList } from '../../drivers/genicam/listCameras.ts';
import type { FoundCamera } from '../../drivers/genicam/messages.ts';
import type { SerialPortFound } from '../../drivers/line/ports.ts';
import type { InstrumentConfig } from '../config/index.ts';
import type { Finder } from './finder.ts';
import { wantedDevices, type Wanted, type WantedDevice } from './wanted.ts';

/** `notNeeded`: there is nothing to be found; `cannotBeTold`: what would look for it is missing itself. */
export type Whether = 'found' | 'missing' | 'cannotBeTold' | 'notNeeded';

/** One device of the instrument file, what it asks for, and whether that is there. */
export interface SurveyedDevice extends WantedDevice {
  readonly whether: Whether;
  /** What was found, or why it was not. */
  readonly note: string;
}

export interface Survey {
  readonly cameras: CameraList;
  readonly serialPorts: readonly SerialPortFound[];
  /** undefined where no instrument file was given. */
  readonly devices: readonly SurveyedDevice[] | undefined;
}

type Outcome = Pick<SurveyedDevice, 'whether' | 'note'>;
type CameraChoice = Extract<Wanted, { kind: 'camera' }>['choice'];

/** The camera that the driver would open, by the same rule: serial number or id, else the address, else the first. */
export function chosenCamera(cameras: readonly FoundCamera[], { serial, address }: CameraChoice): FoundCamera | undefined {
  if (serial !== undefined) return cameras.find((camera) => camera.serial === serial || camera.id === serial);
  return address === undefined ? cameras[0] : cameras.find((camera) => camera.address === address);
}

function aboutCamera(choice: CameraChoice, list: CameraList): Outcome {
  if (list.kind === 'libraryMissing') return { whether: 'cannotBeTold', note: `${list.debianPackage} is not installed` };
  if (list.kind === 'failed') return { whether: 'cannotBeTold', note: 'looking for cameras failed' };
  const camera = chosenCamera(list.cameras, choice);
  if (camera) return { whether: 'found', note: [camera.vendor, camera.model, camera.serial, camera.address].filter((word) => word !== '').join(' ') };
  // A camera behind a router answers when it is opened by its address, but not when all are called.
  if (choice.address !== undefined) return { whether: 'cannotBeTold', note: 'does not answer when all are called, which does not reach beyond this network' };
  return { whether: 'missing', note: list.cameras.length === 0 ? 'no camera answers' : 'not among the cameras that answer' };
}

async function aboutPort(port: string, ports: readonly SerialPortFound[], finder: Finder): Promise<Outcome> {
  const device = await finder.deviceAt(port);
  if (device === undefined) return { whether: 'missing', note: 'not there: look at its plug and power' };
  const stable = ports.find((found) => found.isStable && found.device === device);
  if (device === port && stable) return { whether: 'found', note: `its stable name is ${stable.name}: use that` };
  return { whether: 'found', note: device === port ? '' : `at ${device}` };
}

async function about(wanted: Wanted, list: CameraList, ports: readonly SerialPortFound[], finder: Finder): Promise<Outcome> {
  switch (wanted.kind) {
    case 'nothing':
      return { whether: 'notNeeded', note: '' };
    case 'camera':
      return aboutCamera(wanted.choice, list);
    case 'serial':
      return aboutPort(wanted.port, ports, finder);
    case 'tcp': {
      const reach = await finder.reach(wanted.host, wanted.tcpPort);
      return reach.ok ? { whether: 'found', note: 'takes connections' } : { whether: 'missing', note: reach.reason };
    }
    case 'program': {
      const path = await finder.programAt(wanted.program);
      return path === undefined ? { whether: 'missing', note: 'no such program' } : { whether: 'found', note: path === wanted.program ? '' : `at ${path}` };
    }
    case 'folder':
      return (await finder.deviceAt(wanted.folder)) === undefined ? { whether: 'missing', note: 'no such folder' } : { whether: 'found', note: '' };
  }
}

/** Devices behind one line are looked for once: a serial device server may take one connection at a time. */
async function surveyDevices(devices: readonly WantedDevice[], cameras: CameraList, ports: readonly SerialPortFound[], finder: Finder): Promise<readonly SurveyedDevice[]> {
  const asked = new Map<string, Promise<Outcome>>();
  return Promise.all(
    devices.map(async (device) => {
      const key = JSON.stringify(device.wanted);
      const outcome = asked.get(key) ?? about(device.wanted, cameras, ports, finder);
      asked.set(key, outcome);
      return { ...device, ...(await outcome) };
    }),
  );
}

/** Looks for everything that an instrument could be made of, and for what the instrument file asks for. Nothing moves. */
export async function surveyWith(finder: Finder, config?: InstrumentConfig): Promise<Survey> {
  const [cameras, serialPorts] = await Promise.all([finder.cameras(), finder.serialPorts()]);
  return { cameras, serialPorts, devices: config && (await surveyDevices(wantedDevices(config), cameras, serialPorts, finder)) };
}

/** Whether everything that the instrument file asks for was found. */
export function isComplete({ devices = [] }: Survey): boolean {
  return devices.every(({ whether }) => whether === 'found' || whether === 'notNeeded');
}
