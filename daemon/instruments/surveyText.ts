import type { CameraList } from '../../drivers/genicam/listCameras.ts';
import type { SerialPortFound } from '../../drivers/line/ports.ts';
import { tableText } from '../cli/words.ts';
import { sentenceFor } from '../errors/index.ts';
import type { Survey, SurveyedDevice, Whether } from './survey.ts';
import type { Wanted } from './wanted.ts';

const NO_FIGURES: ReadonlySet<number> = new Set();

const whetherWords: Readonly<Record<Whether, string>> = { found: 'found', missing: 'NOT FOUND', cannotBeTold: 'cannot be told', notNeeded: '' };

function cameraText(list: CameraList): string {
  switch (list.kind) {
    case 'libraryMissing':
      return `Cameras: not looked for, because a library is missing. It is needed for GenICam cameras alone: sudo apt-get install ${list.debianPackage}`;
    case 'failed':
      return `Cameras: ${sentenceFor(list.error).sentence}`;
    case 'cameras': {
      if (list.cameras.length === 0) return 'Cameras (GenICam): none answers. Look at power, cable and network if there should be one.';
      const rows = list.cameras.map(({ serial, vendor, model, address, protocol }) => [serial, vendor, model, address === '' ? '-' : address, protocol]);
      return `Cameras (GenICam):\n${tableText(['serial', 'maker', 'model', 'address', 'protocol'], rows, NO_FIGURES)}`;
    }
  }
}

function portsText(ports: readonly SerialPortFound[]): string {
  if (ports.length === 0) return 'Serial ports (USB): none is plugged in.';
  const rows = ports.map(({ name, device, isStable }) => [name, isStable ? `at ${device} now` : 'without a stable name: it may be called otherwise after the next plugging in']);
  return `Serial ports (USB):\n${tableText(['port', 'where'], rows, NO_FIGURES)}`;
}

/** What a device asks for, as a person says it. */
export function wantedText(wanted: Wanted): string {
  switch (wanted.kind) {
    case 'nothing':
      return 'nothing';
    case 'serial':
      return `line ${wanted.line}: ${wanted.port} at ${wanted.baudRate} baud`;
    case 'tcp':
      return `line ${wanted.line}: ${wanted.host} port ${wanted.tcpPort}`;
    case 'camera': {
      const { serial, address } = wanted.choice;
      if (serial !== undefined) return `serial number ${serial}`;
      return address === undefined ? 'the first camera that answers' : `address ${address}`;
    }
    case 'program':
      return `program ${wanted.program}`;
    case 'folder':
      return `folder ${wanted.folder}`;
  }
}

function devicesText(file: string, devices: readonly SurveyedDevice[]): string {
  const rows = devices.map(({ device, driver, wanted, whether, note }) => [device, driver, wantedText(wanted), [whetherWords[whether], note].filter((part) => part !== '').join(', ')]);
  return `Devices of ${file}:\n${tableText(['device', 'driver', 'asks for', 'there?'], rows, NO_FIGURES)}`;
}

/** The whole survey for people; `file` is the instrument file. */
export function surveyText({ cameras, serialPorts, devices }: Survey, file = ''): string {
  return [cameraText(cameras), portsText(serialPorts), ...(devices ? [devicesText(file, devices)] : [])].join('\n\n');
}

/** The same for scripts: plain data, an error as its code and sentence. */
export function surveyJson({ cameras, serialPorts, devices }: Survey): string {
  const plain = cameras.kind === 'failed' ? { kind: cameras.kind, code: cameras.error.code, sentence: sentenceFor(cameras.error).sentence } : cameras;
  return JSON.stringify({ cameras: plain, serialPorts, ...(devices ? { devices } : {}) }, null, 2);
}
