import { DriverError, type Camera, type CameraFrame, type CameraInfo, type CameraSettings, type Clock, type Region } from '../../drivers/interfaces/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { Faults } from '../devices/faults.ts';
import { Visits } from '../devices/visits.ts';
import type { CameraModel } from './cameraModel.ts';
import type { Renderer } from './renderer.ts';
import type { RenderedFrame, RenderRequest } from './renderFrame.ts';
import { tornFrame } from './tornFrame.ts';

const EXPOSURE_MIN_MS = 0.05;
const EXPOSURE_MAX_MS = 2000;
const GAIN_MAX_DB = 24;
/** How long a frame that never comes is waited for, beyond exposure and readout. */
const PATIENCE_MS = 1000;
/** So much more light that every pixel is full. */
const SATURATING = 1e6;

/** What the camera looks at: the true state of the other devices. */
export interface Sight {
  atUm(): StagePoint;
  zUm(): number;
  objective(): number;
  lampIntensity(): number;
  /** The field stop, where there is one. */
  readonly stop?: () => { readonly opening: number; readonly offsetUm: number };
}

function requireSettings(info: CameraInfo, { exposureMs, gainDb, region }: CameraSettings): void {
  const isExposure = exposureMs >= info.exposureMinMs && exposureMs <= info.exposureMaxMs;
  if (!isExposure) throw new DriverError('exposureRange', { exposureMs, minMs: info.exposureMinMs, maxMs: info.exposureMaxMs });
  if (!(gainDb >= 0 && gainDb <= GAIN_MAX_DB)) throw new DriverError('unsupported', { setting: 'gainDb', asked: gainDb, max: GAIN_MAX_DB });
  if (region && !isOnSensor(region, info)) throw new DriverError('unsupported', { setting: 'region', ...region });
}

function isOnSensor({ colPx, rowPx, widthPx, heightPx }: Region, info: CameraInfo): boolean {
  const areWhole = [colPx, rowPx, widthPx, heightPx].every(Number.isSafeInteger);
  return areWhole && colPx >= 0 && rowPx >= 0 && widthPx > 0 && heightPx > 0 && colPx + widthPx <= info.widthPx && rowPx + heightPx <= info.heightPx;
}

function isSameSize(a: RenderRequest, b: RenderRequest): boolean {
  return a.region.widthPx === b.region.widthPx && a.region.heightPx === b.region.heightPx;
}

/** Ends with the code `stopped` as soon as the signal is aborted, whatever the promise does. */
async function unlessStopped<T>(promise: Promise<T>, signal: AbortSignal | undefined): Promise<T> {
  if (!signal) return promise;
  return new Promise((resolve, reject) => {
    const onAbort = () => reject(new DriverError('stopped', { device: 'camera' }));
    if (signal.aborted) onAbort();
    signal.addEventListener('abort', onAbort, { once: true });
    promise.then(resolve, reject).finally(() => signal.removeEventListener('abort', onAbort));
  });
}

/** What a simulated camera is made of. */
export interface CameraParts {
  readonly clock: Clock;
  /** The clock that frames are stamped by: the computer's. */
  readonly stamps: Pick<Clock, 'now'>;
  readonly model: CameraModel;
  readonly readoutMs: number;
  readonly sight: Sight;
  readonly renderer: Renderer;
  readonly faults: Faults;
}

/** A colour camera that sees the simulated world. Rendering is real work, tied to the clock: it takes exposure and readout of its time. */
export class SimulatedCamera implements Camera {
  readonly info: CameraInfo;
  #settings: CameraSettings = { exposureMs: 10, gainDb: 0 };
  #isSnapping = false;
  #isClosed = false;
  readonly #parts: CameraParts;
  readonly #visits = new Visits();
  /** What the frame before showed. */
  #before: RenderRequest | undefined;

  constructor(parts: CameraParts) {
    this.#parts = parts;
    const { widthPx, heightPx, bits } = parts.model;
    const exposures = { exposureMinMs: EXPOSURE_MIN_MS, exposureMaxMs: EXPOSURE_MAX_MS };
    this.info = { model: 'simulated camera', widthPx, heightPx, pixelFormat: bits === 8 ? 'rgb8' : 'rgb16', bits, ...exposures };
  }

  async configure(asked: CameraSettings): Promise<CameraSettings> {
    this.#check();
    requireSettings(this.info, asked);
    // The camera counts its exposure in whole us.
    this.#settings = { ...asked, exposureMs: Math.round(asked.exposureMs * 1000) / 1000 };
    return this.#settings;
  }

  async snap(signal?: AbortSignal, onExposed?: () => void): Promise<CameraFrame> {
    this.#check();
    if (this.#isSnapping) throw new DriverError('unsupported', { device: 'camera', what: 'two frames at once' });
    if (signal?.aborted) throw new DriverError('stopped', { device: 'camera' });
    this.#isSnapping = true;
    try {
      return await unlessStopped(this.#take(signal, onExposed), signal);
    } finally {
      this.#isSnapping = false;
    }
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    await this.#parts.renderer.close();
  }

  #check(): void {
    if (this.#isClosed) throw new DriverError('closed', { device: 'camera' });
    this.#parts.faults.checkLine('camera');
  }

  async #take(signal: AbortSignal | undefined, onExposed: (() => void) | undefined): Promise<CameraFrame> {
    const { clock, stamps, readoutMs, faults } = this.#parts;
    const takenAtMs = stamps.now();
    const { exposureMs } = this.#settings;
    if (faults.strikes('dropFrame')) {
      const waitedMs = exposureMs + readoutMs + PATIENCE_MS;
      await clock.sleep(waitedMs);
      throw new DriverError('noFrame', { device: 'camera', waitedMs });
    }
    // What it sees is fixed here: whatever moves later, moves after this exposure.
    const request = this.#request();
    const tellExposed = onExposed && clock.sleep(exposureMs, signal).then(onExposed, () => undefined);
    const frame = await clock.track(this.#seen(request), exposureMs + readoutMs);
    await tellExposed;
    this.#check();
    if (faults.strikes('corruptFrame')) throw new DriverError('badFrame', { device: 'camera' });
    return { ...frame, bits: this.info.bits, exposureMs, takenAtMs };
  }

  /** What arrives of a frame. Frames that come again are rendered again: the same request gives the same bytes. */
  async #seen(request: RenderRequest): Promise<RenderedFrame> {
    const { renderer, faults } = this.#parts;
    const before = this.#before && isSameSize(this.#before, request) ? this.#before : undefined;
    if (before && faults.strikes('repeatFrame')) return renderer.render(before);
    this.#before = request;
    if (!before || !faults.strikes('tearFrame')) return renderer.render(request);
    return tornFrame(await renderer.render(request), await renderer.render(before), request.noiseKey);
  }

  /** The true state of everything at this moment. */
  #request(): RenderRequest {
    const { sight, model, faults } = this.#parts;
    const wholeSensor: Region = { colPx: 0, rowPx: 0, widthPx: model.widthPx, heightPx: model.heightPx };
    const { exposureMs, gainDb, region = wholeSensor } = this.#settings;
    const atUm = sight.atUm();
    const zUm = sight.zUm();
    const lampIntensity = faults.strikes('blackFrame') ? 0 : faults.strikes('saturatedFrame') ? SATURATING : sight.lampIntensity();
    const stop = sight.stop?.();
    const noiseKey = this.#visits.next(`${atUm.xUm.toFixed(3)} ${atUm.yUm.toFixed(3)} ${zUm.toFixed(3)} ${exposureMs} ${region.widthPx}`);
    return { atUm, zUm, objective: sight.objective(), exposureMs, gainDb, region, lampIntensity, noiseKey, ...(stop && stop.opening < 1 ? { stop } : {}) };
  }
}
