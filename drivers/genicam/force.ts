import { DriverError } from '../interfaces/index.ts';
import { automatics, isOff, offWithin, type Automatic } from './automatics.ts';
import { LibraryError, type Handle } from './fallible.ts';
import type { Library } from './library.ts';

type Value = string | boolean | number;

/** A few of these features are whole numbers with some makers; the library does not convert. */
function readNumber(library: Library, camera: Handle, feature: string): { readonly value: number; readonly isWhole: boolean } {
  try {
    return { value: library.getFloat(camera, feature), isWhole: false };
  } catch (error) {
    if (!(error instanceof LibraryError) || error.problem !== 'other') throw error;
    return { value: Number(library.getInteger(camera, feature)), isWhole: true };
  }
}

function read(library: Library, camera: Handle, { feature, kind }: Automatic): Value {
  if (kind === 'choice') return library.getText(camera, feature) ?? '';
  if (kind === 'switch') return library.getBoolean(camera, feature) !== 0;
  return readNumber(library, camera, feature).value;
}

/** The value to set, inside the feature's bounds. */
function target(library: Library, camera: Handle, automatic: Automatic): Value {
  if (automatic.kind !== 'number') return automatic.off;
  const min: [number | bigint] = [0];
  const max: [number | bigint] = [0];
  if (readNumber(library, camera, automatic.feature).isWhole) library.integerBounds(camera, automatic.feature, min, max);
  else library.floatBounds(camera, automatic.feature, min, max);
  return offWithin(automatic.off, Number(min[0]), Number(max[0]));
}

function write(library: Library, camera: Handle, feature: string, value: Value): void {
  if (typeof value === 'string') library.setText(camera, feature, value);
  else if (typeof value === 'boolean') library.setBoolean(camera, feature, value ? 1 : 0);
  else if (readNumber(library, camera, feature).isWhole) library.setInteger(camera, feature, value);
  else library.setFloat(camera, feature, value);
}

function forceOne(library: Library, camera: Handle, automatic: Automatic): void {
  const { feature } = automatic;
  const off = target(library, camera, automatic);
  if (isOff(read(library, camera, automatic), off)) return;
  let message = 'it was set, and did not change';
  try {
    write(library, camera, feature, off);
  } catch (error) {
    // A camera that is gone is another matter than a feature that cannot be written.
    if (!(error instanceof LibraryError) || error.problem !== 'other') throw error;
    message = error.message;
  }
  const value = read(library, camera, automatic);
  if (!isOff(value, off)) throw new DriverError('notForcedOff', { feature, value: String(value), wanted: String(off), message });
}

/**
 * Switches off whatever the camera does to its pictures by itself, reads each back, and returns the names of those it has.
 * Throws `notForcedOff` with feature and value.
 */
export function forceOff(library: Library, camera: Handle): readonly string[] {
  const present: string[] = [];
  for (const automatic of automatics) {
    // Asked one by one: switching one off can take the next away.
    if (library.hasFeature(camera, automatic.feature) === 0) continue;
    forceOne(library, camera, automatic);
    present.push(automatic.feature);
  }
  return present;
}
