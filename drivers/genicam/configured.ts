import { DriverError, type CameraSettings, type Region } from '../interfaces/index.ts';
import { openDevice, type Device } from './device.ts';
import { LibraryError } from './fallible.ts';
import { enclosingRegion, sameRegion, wholeSensor } from './geometry.ts';
import type { Library } from './library.ts';
import type { CameraChoice, OpenOptions } from './messages.ts';
import { setUpDevice, type SetUp } from './setup.ts';
import { FrameStream } from './stream.ts';

/** ms to whole us, which is what cameras count in. */
function asUs(ms: number): number {
  return Math.round(ms * 1000);
}

/** A place for the library to write a number to. */
function written(): [number | bigint] {
  return [0];
}

function regionText({ colPx, rowPx, widthPx, heightPx }: Region): string {
  return `${widthPx}x${heightPx} at ${colPx},${rowPx}`;
}

/** An open camera with its settings and the stream that belongs to them. Every call may throw LibraryError. */
export class ConfiguredCamera {
  readonly device: Device;
  readonly setUp: SetUp;
  readonly #library: Library;
  #stream: FrameStream | undefined;
  /** What the camera is set to read; the region asked for lies in it. */
  #hardware: Region;

  private constructor(library: Library, device: Device, setUp: SetUp) {
    this.#library = library;
    this.device = device;
    this.setUp = setUp;
    this.#hardware = wholeSensor(setUp.bounds.sensor);
  }

  /** Opens the camera and sets all that does not change later; it gives no frames before `apply`. */
  static open(library: Library, choice: CameraChoice, options: OpenOptions): ConfiguredCamera {
    const device = openDevice(library, choice);
    try {
      return new ConfiguredCamera(library, device, setUpDevice(library, device, options));
    } catch (error) {
      library.unref(device.handle);
      throw error;
    }
  }

  get hardware(): Region {
    return this.#hardware;
  }

  get stream(): FrameStream {
    if (!this.#stream) throw new DriverError('noFrame', { reason: 'no stream is open' });
    return this.#stream;
  }

  /** The exposure and gain that it woke up with, inside its bounds, over the whole sensor. */
  wokenSettings(): CameraSettings {
    const { exposureMinMs, exposureMaxMs, gainMinDb, gainMaxDb } = this.setUp.bounds;
    const { handle } = this.device;
    const gainDb = this.#library.hasGain(handle) === 0 ? 0 : this.#library.gain(handle);
    const within = (value: number, min: number, max: number) => Math.min(max, Math.max(min, value));
    return { exposureMs: within(this.#library.exposureUs(handle) / 1000, exposureMinMs, exposureMaxMs), gainDb: within(gainDb, gainMinDb, gainMaxDb) };
  }

  /** Sets what was checked before, and returns what the camera uses. A region of another size gets a new stream (0.1 s). */
  apply(asked: CameraSettings): CameraSettings {
    const { sensor } = this.setUp.bounds;
    const hardware = asked.region ? enclosingRegion(asked.region, sensor) : wholeSensor(sensor);
    if (!this.#stream || !sameRegion(hardware, this.#hardware)) this.#restart(hardware);
    const { handle } = this.device;
    this.#library.setExposureUs(handle, asUs(asked.exposureMs));
    const hasGain = this.#library.hasGain(handle) !== 0;
    if (hasGain) this.#library.setGain(handle, asked.gainDb);
    const exposureMs = this.#library.exposureUs(handle) / 1000;
    return { exposureMs, gainDb: hasGain ? this.#library.gain(handle) : 0, ...(asked.region ? { region: asked.region } : {}) };
  }

  /** A new stream at the same settings: nothing that is still under way can arrive on it. */
  renewStream(): void {
    this.#restart(this.#hardware);
  }

  /** Closes everything. Seconds where the camera no longer answers: each of its farewells waits in vain. */
  close(isLost: boolean): void {
    try {
      if (this.#stream && !isLost) this.#library.stopAcquisition(this.device.handle);
    } catch (error) {
      if (!(error instanceof LibraryError)) throw error;
    } finally {
      this.#stream?.close();
      this.#stream = undefined;
      this.#library.unref(this.device.handle);
    }
  }

  #restart(hardware: Region): void {
    const { handle } = this.device;
    if (this.#stream) {
      this.#library.stopAcquisition(handle);
      this.#stream.close();
      this.#stream = undefined;
    }
    this.#setRegion(hardware);
    this.#hardware = hardware;
    this.#stream = new FrameStream(this.#library, this.device);
    this.#library.startAcquisition(handle);
  }

  /** To the corner first, since place and size bound each other; then read back. Negative values are left as they are by the library. */
  #setRegion({ colPx, rowPx, widthPx, heightPx }: Region): void {
    const { handle } = this.device;
    const hasOffset = this.#library.hasOffset(handle) !== 0;
    if (hasOffset) this.#library.setRegion(handle, 0, 0, -1, -1);
    this.#library.setRegion(handle, -1, -1, widthPx, heightPx);
    if (hasOffset) this.#library.setRegion(handle, colPx, rowPx, -1, -1);
    const [x, y, width, height] = [written(), written(), written(), written()] as const;
    this.#library.region(handle, x, y, width, height);
    const used = { colPx: Number(x[0]), rowPx: Number(y[0]), widthPx: Number(width[0]), heightPx: Number(height[0]) };
    if (sameRegion(used, { colPx, rowPx, widthPx, heightPx })) return;
    throw new DriverError('unsupported', { setting: 'region', asked: regionText({ colPx, rowPx, widthPx, heightPx }), used: regionText(used) });
  }
}
