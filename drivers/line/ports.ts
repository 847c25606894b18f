import { readdir, realpath } from 'node:fs/promises';
import { basename, join } from 'node:path';

/** Where Linux shows serial ports. Injected, so that tests can lay out their own. */
export interface PortFolders {
  /** Symbolic links by maker, model and serial number, laid by udev: they stay the same whichever socket a device is plugged into. */
  readonly byId: string;
  readonly devices: string;
}

export const SYSTEM_PORTS: PortFolders = { byId: '/dev/serial/by-id', devices: '/dev' };

/** A serial port that is plugged in. */
export interface SerialPortFound {
  /** What belongs into the instrument file: the name by serial number where there is one, else the device's own. */
  readonly name: string;
  /** The device at present, like `/dev/ttyUSB0`. */
  readonly device: string;
  /** Whether the name outlives unplugging. */
  readonly isStable: boolean;
}

/** USB serial adapters and USB modems, as the kernel names them (documentation/admin-guide/devices.txt, majors 188 and 166). */
const USB_SERIAL = /^tty(USB|ACM)\d+$/;

async function namesIn(folder: string): Promise<readonly string[]> {
  return readdir(folder).catch(() => []);
}

async function byId(folder: string): Promise<readonly SerialPortFound[]> {
  const found = (await namesIn(folder)).map(async (name): Promise<readonly SerialPortFound[]> => {
    const path = join(folder, name);
    // A link whose device has just gone says nothing.
    const device = await realpath(path).catch(() => undefined);
    return device === undefined ? [] : [{ name: path, device, isStable: true }];
  });
  return (await Promise.all(found)).flat();
}

/** Every USB serial port that is plugged in, by its stable name where it has one, in the order of their names. Never throws; needs no rights. */
export async function listSerialPorts(folders: PortFolders = SYSTEM_PORTS): Promise<readonly SerialPortFound[]> {
  const stable = await byId(folders.byId);
  const named = new Set(stable.map(({ device }) => basename(device)));
  const plain = (await namesIn(folders.devices)).filter((name) => USB_SERIAL.test(name) && !named.has(name));
  const unnamed = plain.map((name) => ({ name: join(folders.devices, name), device: join(folders.devices, name), isStable: false }));
  return [...stable, ...unnamed].sort((a, b) => (a.name < b.name ? -1 : 1));
}
