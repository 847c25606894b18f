import { DriverError } from '../interfaces/index.ts';
import type { CameraChoice, FoundCamera } from './messages.ts';
import type { Library } from './library.ts';

/** Cameras that answer now: about a second on the network. An address is empty where the bus has none. */
export function findCameras(library: Library): readonly FoundCamera[] {
  library.updateDeviceList();
  return Array.from({ length: library.deviceCount() }, (_, index) => ({
    id: library.deviceId(index) ?? '',
    vendor: library.deviceVendor(index) ?? '',
    model: library.deviceModel(index) ?? '',
    serial: library.deviceSerial(index) ?? '',
    address: library.deviceAddress(index) ?? '',
    protocol: library.deviceProtocol(index) ?? '',
  }));
}

/**
 * The name by which the library opens the chosen camera: an address as it stands, else the id of the one with this serial number or id.
 * Throws `noSuchCamera` with the serial numbers that were found.
 */
export function nameOfChosen(library: Library, choice: CameraChoice): string {
  if ('address' in choice) return choice.address;
  const found = findCameras(library);
  const chosen = 'serial' in choice ? found.find(({ serial, id }) => serial === choice.serial || id === choice.serial) : found[0];
  if (chosen) return chosen.id;
  const known = found.map(({ serial }) => serial).join(' ');
  throw new DriverError('noSuchCamera', { ...choice, found: known === '' ? 'none' : known });
}
