import { bayerPattern } from '../frames/bayer.ts';
import { DriverError } from '../interfaces/index.ts';
import type { Device } from './device.ts';
import { LibraryError, type Handle } from './fallible.ts';
import { forceOff } from './force.ts';
import { chooseFormat, type WireFormat } from './formats.ts';
import type { AxisBounds, SensorBounds, SettingBounds } from './geometry.ts';
import type { Library } from './library.ts';
import type { OpenOptions } from './messages.ts';

/** The library's ArvAcquisitionMode and ArvGvPacketSizeAdjustment. */
const CONTINUOUS = 0;
const NEVER_ADJUST = 0;

/** All that is set once per opening, before exposure, gain and region. */
export interface SetUp {
  readonly format: WireFormat;
  readonly bounds: SettingBounds;
  readonly packetSizeBytes: number;
  /** It was to be found out, and the camera has no test packets to find it out by. */
  readonly isPacketSizeUntried: boolean;
  readonly forcedOff: readonly string[];
  readonly globalShutter: boolean;
}

type Pair = readonly [number, number];

/** Two numbers that the library writes to pointers. */
function pair(call: (first: [number | bigint], second: [number | bigint]) => void): Pair {
  const first: [number | bigint] = [0];
  const second: [number | bigint] = [0];
  call(first, second);
  return [Number(first[0]), Number(second[0])];
}

/** Tries what a camera may refuse without harm; a camera that is gone still throws. */
function ifAllowed(attempt: () => void): void {
  try {
    attempt();
  } catch (error) {
    if (!(error instanceof LibraryError) || error.problem !== 'other') throw error;
  }
}

function setPacketSize(library: Library, { handle, isNetwork }: Device, asked: 'auto' | number): number {
  if (!isNetwork) return 0;
  library.setPacketSizeAdjustment(handle, NEVER_ADJUST);
  if (asked === 'auto') library.autoPacketSize(handle);
  else library.setPacketSize(handle, asked);
  const used = library.packetSize(handle);
  if (asked !== 'auto' && used !== asked) throw new DriverError('unsupported', { setting: 'packetSize', asked, used });
  return used;
}

function setFormat(library: Library, handle: Handle, asked: string | undefined): WireFormat {
  const count: [number | bigint] = [0];
  const list = library.pixelFormats(handle, count);
  const format = chooseFormat(asked, list === null ? [] : library.takeIntegers(list, Number(count[0])));
  library.setPixelFormat(handle, format.code);
  const seen = library.pixelFormat(handle);
  if (seen !== format.code) throw new DriverError('formatNotOffered', { pixelFormat: format.name, usedCode: `0x${seen.toString(16)}` });
  return format;
}

function setBinning(library: Library, handle: Handle, binning: number): void {
  if (library.hasBinning(handle) === 0) {
    if (binning !== 1) throw new DriverError('unsupported', { setting: 'binning', asked: binning });
    return;
  }
  const [minX, maxX] = pair((min, max) => library.binningBoundsX(handle, min, max));
  const [minY, maxY] = pair((min, max) => library.binningBoundsY(handle, min, max));
  const [min, max] = [Math.max(minX, minY), Math.min(maxX, maxY)];
  if (!(Number.isSafeInteger(binning) && binning >= min && binning <= max)) throw new DriverError('unsupported', { setting: 'binning', asked: binning, min, max });
  library.setBinning(handle, binning, binning);
  const [across, down] = pair((first, second) => library.binning(handle, first, second));
  if (across !== binning || down !== binning) throw new DriverError('unsupported', { setting: 'binning', asked: binning, usedAcross: across, usedDown: down });
}

/** The trigger waits for us alone; a limit on the frame rate would make it wait for the camera's own beat as well. */
function setTrigger(library: Library, handle: Handle, triggering: OpenOptions['triggering']): void {
  library.setAcquisitionMode(handle, CONTINUOUS);
  if (triggering === 'freeRun') {
    library.clearTriggers(handle);
    return;
  }
  if (library.hasSoftwareTrigger(handle) === 0) throw new DriverError('unsupported', { setting: 'triggering', asked: triggering, offered: 'freeRun' });
  if (library.hasFrameRate(handle) !== 0) ifAllowed(() => library.setFrameRate(handle, pair((min, max) => library.frameRateBounds(handle, min, max))[1]));
  library.setTrigger(handle, 'Software');
}

/** A mosaic is cut at even places only, so that the buffer always begins with the filter that the format names. */
function offsetStep(step: number, isMosaic: boolean): number {
  const whole = Math.max(1, step);
  return isMosaic && whole % 2 !== 0 ? 2 * whole : whole;
}

function axis([minPx, maxPx]: Pair, sensorPx: number, stepPx: number, offsetStepPx: number): AxisBounds {
  return { minPx: Math.max(1, minPx), maxPx: Math.min(maxPx, sensorPx), stepPx: Math.max(1, stepPx), offsetStepPx };
}

/** Lengths are bounded by where the region begins: it is put to the corner first. Some cameras forget that binning makes the picture smaller. */
function readSensor(library: Library, handle: Handle, binning: number, isMosaic: boolean): SensorBounds {
  const hasOffset = library.hasOffset(handle) !== 0;
  if (hasOffset) library.setRegion(handle, 0, 0, -1, -1);
  const [sensorWidth, sensorHeight] = pair((width, height) => library.sensorSize(handle, width, height)).map((px) => Math.floor(px / binning));
  const width = pair((min, max) => library.widthBounds(handle, min, max));
  const height = pair((min, max) => library.heightBounds(handle, min, max));
  const xStep = hasOffset ? offsetStep(library.offsetXStep(handle), isMosaic) : width[1];
  const yStep = hasOffset ? offsetStep(library.offsetYStep(handle), isMosaic) : height[1];
  return {
    across: axis(width, sensorWidth || width[1], library.widthStep(handle), xStep),
    down: axis(height, sensorHeight || height[1], library.heightStep(handle), yStep),
  };
}

function readBounds(library: Library, handle: Handle, binning: number, isMosaic: boolean): SettingBounds {
  const [exposureMinUs, exposureMaxUs] = pair((min, max) => library.exposureBoundsUs(handle, min, max));
  const [gainMinDb, gainMaxDb] = library.hasGain(handle) === 0 ? [0, 0] : pair((min, max) => library.gainBounds(handle, min, max));
  return { exposureMinMs: exposureMinUs / 1000, exposureMaxMs: exposureMaxUs / 1000, gainMinDb, gainMaxDb, sensor: readSensor(library, handle, binning, isMosaic) };
}

function asksGlobalShutter(library: Library, handle: Handle): boolean {
  return library.hasFeature(handle, 'SensorShutterMode') !== 0 && library.getText(handle, 'SensorShutterMode') === 'Global';
}

/**
 * Brings a camera that was just opened, with whatever settings it woke up with, to ours. Each is read back.
 * Throws `formatNotOffered`, `notForcedOff`, `unsupported`, or LibraryError.
 */
export function setUpDevice(library: Library, device: Device, options: OpenOptions): SetUp {
  const { handle } = device;
  // A camera that a dead program left running refuses changes of its format.
  ifAllowed(() => library.stopAcquisition(handle));
  const packetSizeBytes = setPacketSize(library, device, options.packetSize);
  const isPacketSizeUntried = device.isNetwork && options.packetSize === 'auto' && library.hasFeature(handle, 'GevSCPSFireTestPacket') === 0;
  setBinning(library, handle, options.binning);
  const format = setFormat(library, handle, options.pixelFormat);
  const forcedOff = forceOff(library, handle);
  setTrigger(library, handle, options.triggering);
  const bounds = readBounds(library, handle, options.binning, bayerPattern(format.pixelFormat) !== undefined);
  const globalShutter = options.globalShutter ?? asksGlobalShutter(library, handle);
  return { format, bounds, packetSizeBytes, isPacketSizeUntried, forcedOff, globalShutter };
}
