import { DriverError, type CameraFrame, type CameraSettings, type Clock } from '../interfaces/index.ts';
import { ConfiguredCamera } from './configured.ts';
import { isAnswering, isStillOurs } from './device.ts';
import { FrameMemory } from './frameMemory.ts';
import { checkSettings, wholeSensor } from './geometry.ts';
import { readKept, restoreKept, type KeptValue } from './kept.ts';
import type { Library } from './library.ts';
import { NO_COUNTS, type CameraChoice, type CameraCounters, type CameraFacts, type OpenOptions } from './messages.ts';
import { tryLargePackets } from './packetSize.ts';
import { asDriverError } from './problems.ts';
import { takeFreeRun, takeTriggered, type Miss, type Shot } from './take.ts';

/** `silent`: it no longer answers us, and is closed without farewells. `answering`: it does, and still gave no frame. */
type Loss = 'none' | 'silent' | 'answering';

/**
 * One camera from its opening to its closing, losses included. Every call blocks its thread: it lives in the worker. All throw
 * DriverError. After `disconnected` or `noFrame` the next call opens the camera anew, by its serial number, and sets everything again.
 */
export class Session {
  readonly #library: Library;
  readonly #options: OpenOptions;
  readonly #clock: Clock;
  #camera: ConfiguredCamera | undefined;
  #settings: CameraSettings | undefined;
  readonly #memory = new FrameMemory();
  #loss: Loss = 'none';
  #packetsSeen = { missing: 0, resent: 0 };
  /** What was found out at the first opening. */
  #packetSize: number | undefined;
  #serial = '';
  /** Values of the user's that a camera may have forgotten when it comes back. */
  #kept: readonly KeptValue[] | undefined;
  #counters: CameraCounters = NO_COUNTS;

  constructor(library: Library, options: OpenOptions, clock: Clock) {
    this.#library = library;
    this.#options = options;
    this.#clock = clock;
  }

  get counters(): CameraCounters {
    return this.#counters;
  }

  /** Opens it for the first time. */
  open(): CameraFacts {
    const camera = this.#connect(this.#options.camera);
    this.#serial = camera.device.serial;
    return this.#facts(camera);
  }

  configure(asked: CameraSettings): CameraSettings {
    const camera = this.#live();
    checkSettings(asked, camera.setUp.bounds);
    return this.#guarded(camera, () => this.#apply(camera, asked));
  }

  /** `onExposed` is called early where that can be known, else not at all: whoever gets the frame knows then. */
  snap(onExposed: () => void): CameraFrame {
    const camera = this.#live();
    const settings = this.#guarded(camera, () => this.#settings ?? this.#apply(camera, camera.wokenSettings()));
    let isExposed = false;
    const taking = { library: this.#library, clock: this.#clock, camera, settings, options: this.#options, memory: this.#memory, onExposed: () => {
      isExposed = true;
      onExposed();
    } };
    const missingBefore = this.#counters.missingPackets;
    for (let tries = 1; ; tries++) {
      const shot = this.#guarded(camera, () => (this.#options.triggering === 'freeRun' ? takeFreeRun(taking) : takeTriggered(taking)));
      this.#countPackets(camera);
      if ('frame' in shot) return this.#good(shot);
      if (shot.kind === 'never') throw this.#never(camera, shot);
      // Once told that it may move, what is in front of the camera is no longer what was asked for: no second try then.
      if (isExposed || tries > this.#options.retries) throw new DriverError('badFrame', { ...shot.error.details, tries, missingPackets: this.#counters.missingPackets - missingBefore });
      this.#counters = { ...this.#counters, retries: this.#counters.retries + 1 };
    }
  }

  /** Closes what is lost, which can take seconds: called when nobody waits. */
  releaseLost(): void {
    if (this.#loss !== 'none') this.#release();
  }

  close(): void {
    this.#release();
  }

  #release(): void {
    const camera = this.#camera;
    const isSilent = this.#loss === 'silent';
    this.#camera = undefined;
    this.#loss = 'none';
    camera?.close(isSilent);
  }

  #connect(choice: CameraChoice): ConfiguredCamera {
    let camera: ConfiguredCamera | undefined;
    try {
      camera = ConfiguredCamera.open(this.#library, choice, { ...this.#options, packetSize: this.#packetSize ?? this.#options.packetSize });
      const { handle } = camera.device;
      if (this.#kept) restoreKept(this.#library, handle, this.#kept);
      else this.#kept = readKept(this.#library, handle);
      const settings = this.#settings ?? camera.wokenSettings();
      if (camera.setUp.isPacketSizeUntried) this.#packetSize = tryLargePackets(this.#library, this.#clock, camera, this.#options);
      this.#settings = camera.apply(settings);
      this.#camera = camera;
      this.#packetsSeen = { missing: 0, resent: 0 };
      return camera;
    } catch (error) {
      const told = asDriverError(error, () => false);
      camera?.close(true);
      throw told;
    }
  }

  /** The open camera; after a loss it is sought again first. */
  #live(): ConfiguredCamera {
    this.releaseLost();
    if (this.#camera) return this.#camera;
    const choice = 'address' in this.#options.camera || this.#serial === '' ? this.#options.camera : { serial: this.#serial };
    const camera = this.#reconnect(choice);
    this.#counters = { ...this.#counters, reopenings: this.#counters.reopenings + 1 };
    return camera;
  }

  #reconnect(choice: CameraChoice): ConfiguredCamera {
    try {
      const camera = this.#connect(choice);
      if (camera.device.serial === this.#serial) return camera;
      this.#release();
      throw new DriverError('noSuchCamera', { serial: this.#serial, found: camera.device.serial });
    } catch (error) {
      // Not there yet, or its right to write still held by our own lost connection: to the caller, it is still gone.
      const isGone = error instanceof DriverError && (error.code === 'noSuchCamera' || error.code === 'cameraBusy');
      if (isGone) throw new DriverError('disconnected', { device: 'camera', serial: this.#serial, reason: error.code }, { cause: error });
      throw error;
    }
  }

  /**
   * Errors of the library become ours; with a camera that is gone the connection is given up. So it is with one that answers and takes no
   * orders: it has started anew behind our back, or another program has taken it over.
   */
  #guarded<T>(camera: ConfiguredCamera, act: () => T): T {
    try {
      return act();
    } catch (error) {
      const told = asDriverError(error, () => isAnswering(this.#library, camera.device));
      if (told.code !== 'disconnected' && told.code !== 'cameraBusy') throw told;
      this.#loss = told.code === 'disconnected' ? 'silent' : 'answering';
      throw new DriverError('disconnected', { ...told.details, serial: this.#serial, ...(told.code === 'cameraBusy' ? { reason: told.code } : {}) }, { cause: error });
    }
  }

  #apply(camera: ConfiguredCamera, asked: CameraSettings): CameraSettings {
    this.#settings = camera.apply(asked);
    return this.#settings;
  }

  #good({ frame, frameId }: Shot): CameraFrame {
    this.#counters = { ...this.#counters, frames: this.#counters.frames + 1, lastFrameId: frameId };
    return frame;
  }

  /** No frame came: whether the camera is gone or only gave none, everything is opened anew before the next. */
  #never(camera: ConfiguredCamera, { waitedMs }: Extract<Miss, { kind: 'never' }>): DriverError {
    this.#counters = { ...this.#counters, timeouts: this.#counters.timeouts + 1 };
    const isOurs = isStillOurs(this.#library, camera.device);
    this.#loss = isOurs ? 'answering' : 'silent';
    return new DriverError(isOurs ? 'noFrame' : 'disconnected', { device: 'camera', serial: this.#serial, waitedMs });
  }

  /** The library counts anew with each stream: only what was added since the last look is taken over. */
  #countPackets(camera: ConfiguredCamera): void {
    const { missing, resent } = camera.stream.packets();
    const since = (now: number, before: number) => (now >= before ? now - before : now);
    const { missing: missingBefore, resent: resentBefore } = this.#packetsSeen;
    this.#packetsSeen = { missing, resent };
    this.#counters = {
      ...this.#counters,
      missingPackets: this.#counters.missingPackets + since(missing, missingBefore),
      resentPackets: this.#counters.resentPackets + since(resent, resentBefore),
    };
  }

  #facts({ device, setUp }: ConfiguredCamera): CameraFacts {
    const { format, bounds, forcedOff, globalShutter } = setUp;
    const packetSizeBytes = this.#packetSize ?? setUp.packetSizeBytes;
    const { widthPx, heightPx } = wholeSensor(bounds.sensor);
    const exposures = { exposureMinMs: bounds.exposureMinMs, exposureMaxMs: bounds.exposureMaxMs };
    const info = { model: `${device.vendor} ${device.model}`.trim(), widthPx, heightPx, pixelFormat: format.pixelFormat, bits: format.bits, ...exposures };
    return { info, vendor: device.vendor, serial: device.serial, pixelFormatName: format.name, triggering: this.#options.triggering, globalShutter, packetSizeBytes, forcedOff };
  }
}
