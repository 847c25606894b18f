import { DriverError } from '../interfaces/index.ts';
import { nameOfChosen } from './discovery.ts';
import { LibraryError, type Handle } from './fallible.ts';
import type { Library } from './library.ts';
import type { CameraChoice } from './messages.ts';
import { asDriverError } from './problems.ts';

/** A camera that is open and that we have the right to write to. */
export interface Device {
  readonly handle: Handle;
  readonly isNetwork: boolean;
  readonly vendor: string;
  readonly model: string;
  readonly serial: string;
}

/** Bootstrap register of GigE Vision, Control Channel Privilege: 0 when the camera knows of no controller (from memory; so does the fake). */
const CONTROL_PRIVILEGE = 0x0a00;

/** Whether it answers one question; up to some seconds where it does not. */
export function isAnswering(library: Library, { handle }: Pick<Device, 'handle'>): boolean {
  try {
    library.exposureUs(handle);
    return true;
  } catch {
    return false;
  }
}

/**
 * Whether the camera still knows us: one that has started anew, or has missed our heartbeat, answers and takes orders, but has forgotten
 * its settings and sends no frames. Seconds where it does not answer.
 */
export function isStillOurs(library: Library, { handle, isNetwork }: Device): boolean {
  if (!isNetwork) return isAnswering(library, { handle });
  const value: [number | bigint] = [0];
  try {
    library.readRegister(library.deviceOf(handle), CONTROL_PRIVILEGE, value);
    return Number(value[0]) !== 0;
  } catch {
    return false;
  }
}

function openNamed(library: Library, name: string, choice: CameraChoice): Handle {
  try {
    return library.openCamera(name);
  } catch (error) {
    if (error instanceof LibraryError && error.problem === 'notFound') throw new DriverError('noSuchCamera', { ...choice, message: error.message }, { cause: error });
    throw asDriverError(error, () => false);
  }
}

/**
 * Opens the chosen camera. Throws `noSuchCamera`; `cameraBusy` where another program has the right to write, which the library only tells
 * when asked; `disconnected` when it falls silent on the way.
 */
export function openDevice(library: Library, choice: CameraChoice): Device {
  const name = nameOfChosen(library, choice);
  const handle = openNamed(library, name, choice);
  try {
    const isNetwork = library.isNetworkCamera(handle) !== 0;
    if (isNetwork && library.isController(library.deviceOf(handle)) === 0) throw new DriverError('cameraBusy', { camera: name });
    return { handle, isNetwork, vendor: library.vendorName(handle) ?? '', model: library.modelName(handle) ?? '', serial: library.serialNumber(handle) ?? '' };
  } catch (error) {
    const told = asDriverError(error, () => isAnswering(library, { handle }));
    library.unref(handle);
    throw told;
  }
}
