import type { InstrumentConfig } from '../config/index.ts';

/** Where a device of the instrument file is to be found. */
export type Wanted =
  | { readonly kind: 'serial'; readonly line: string; readonly port: string; readonly baudRate: number }
  | { readonly kind: 'tcp'; readonly line: string; readonly host: string; readonly tcpPort: number }
  | { readonly kind: 'camera'; readonly choice: { readonly serial?: string | undefined; readonly address?: string | undefined } }
  | { readonly kind: 'program'; readonly program: string }
  | { readonly kind: 'folder'; readonly folder: string }
  /** Simulated, or turned by hand. */
  | { readonly kind: 'nothing' };

/** One device of the instrument file, and what it asks for. */
export interface WantedDevice {
  readonly device: string;
  readonly driver: string;
  readonly wanted: Wanted;
}

type Lines = InstrumentConfig['lines'];

function behindLine(line: string | undefined, lines: Lines): Wanted {
  if (line === undefined) return { kind: 'nothing' };
  const { serial, tcp } = lines[line] ?? {};
  if (serial) return { kind: 'serial', line, port: serial.port, baudRate: serial.baudRate };
  return tcp ? { kind: 'tcp', line, host: tcp.host, tcpPort: tcp.port } : { kind: 'nothing' };
}

function ofCamera({ genicam, rawVideo, frameSet }: InstrumentConfig['camera']): Wanted {
  if (genicam) return { kind: 'camera', choice: { serial: genicam.serial, address: genicam.address } };
  if (rawVideo) return { kind: 'program', program: rawVideo.command[0] ?? '' };
  return frameSet ? { kind: 'folder', folder: frameSet.folder } : { kind: 'nothing' };
}

/** Every device of the instrument file in the order of the file, and what it asks for. */
export function wantedDevices({ lines, stage, focus, camera, turret, lamp }: InstrumentConfig): readonly WantedDevice[] {
  const controlled = { stage, focus, ...(focus.fieldStop ? { fieldStop: focus.fieldStop } : {}), turret, lamp };
  const behindLines = Object.entries(controlled).map(([device, { driver, line }]) => ({ device, driver, wanted: behindLine(line, lines) }));
  const ofTheCamera = { device: 'camera', driver: camera.driver, wanted: ofCamera(camera) };
  const cameraAt = behindLines.findIndex(({ device }) => device === 'turret');
  return [...behindLines.slice(0, cameraAt), ofTheCamera, ...behindLines.slice(cameraAt)];
}

/** A serial port that the instrument file names, with the devices behind it. */
export interface NamedPort {
  readonly port: string;
  readonly devices: readonly string[];
}

/** The serial ports that the instrument file names, each once. */
export function namedPorts(config: InstrumentConfig): readonly NamedPort[] {
  const ports = new Map<string, readonly string[]>();
  for (const { device, wanted } of wantedDevices(config)) {
    if (wanted.kind === 'serial') ports.set(wanted.port, [...(ports.get(wanted.port) ?? []), device]);
  }
  return [...ports].map(([port, devices]) => ({ port, devices }));
}
