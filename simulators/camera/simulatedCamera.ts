import { DriverError, type Camera, type CameraInfo, type CameraSettings, type Clock, type Region } from '../../drivers/interfaces/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { Faults } from '../devices/faults.ts';
import { Visits } from '../devices/visits.ts';
import type { CameraModel } from './cameraModel.ts';
import type { Renderer } from './renderer.ts';

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

/** A colour camera that sees the simulated world. Rendering is real work, tied to the clock: it takes exposure and readout of its time. */
export function createSimulatedCamera(clock: Clock, model: CameraModel, readoutMs: number, sight: Sight, renderer: Renderer, faults: Faults): Camera {
  const { widthPx, heightPx, bits } = model;
  const exposures = { exposureMinMs: EXPOSURE_MIN_MS, exposureMaxMs: EXPOSURE_MAX_MS };
  const info: CameraInfo = { model: 'simulated camera', widthPx, heightPx, pixelFormat: bits === 8 ? 'rgb8' : 'rgb16', bits, ...exposures };
  const wholeSensor: Region = { colPx: 0, rowPx: 0, widthPx, heightPx };
  const visits = new Visits();
  let settings: CameraSettings = { exposureMs: 10, gainDb: 0 };
  let isSnapping = false;
  let isClosed = false;
  const check = () => {
    if (isClosed) throw new DriverError('closed', { device: 'camera' });
    faults.checkLine('camera');
  };
  const requestNow = () => {
    const { exposureMs, gainDb, region = wholeSensor } = settings;
    const atUm = sight.atUm();
    const zUm = sight.zUm();
    const light = faults.strikes('blackFrame') ? 0 : faults.strikes('saturatedFrame') ? SATURATING : sight.lampIntensity();
    const noiseKey = visits.next(`${atUm.xUm.toFixed(3)} ${atUm.yUm.toFixed(3)} ${zUm.toFixed(3)} ${exposureMs} ${region.widthPx}`);
    return { atUm, zUm, objective: sight.objective(), exposureMs, gainDb, region, lampIntensity: light, noiseKey };
  };
  const take = async () => {
    const takenAtMs = clock.now();
    const { exposureMs } = settings;
    const durationMs = exposureMs + readoutMs;
    if (faults.strikes('dropFrame')) {
      await clock.sleep(durationMs + PATIENCE_MS);
      throw new DriverError('noFrame', { device: 'camera', waitedMs: durationMs + PATIENCE_MS });
    }
    const frame = await clock.track(renderer.render(requestNow()), durationMs);
    check();
    if (faults.strikes('corruptFrame')) throw new DriverError('badFrame', { device: 'camera' });
    return { ...frame, bits, exposureMs, takenAtMs };
  };
  return {
    info,
    async configure(asked) {
      check();
      requireSettings(info, asked);
      // The camera counts its exposure in whole us.
      settings = { ...asked, exposureMs: Math.round(asked.exposureMs * 1000) / 1000 };
      return settings;
    },
    async snap(signal) {
      check();
      if (isSnapping) throw new DriverError('unsupported', { device: 'camera', what: 'two frames at once' });
      if (signal?.aborted) throw new DriverError('stopped', { device: 'camera' });
      isSnapping = true;
      try {
        return await unlessStopped(take(), signal);
      } finally {
        isSnapping = false;
      }
    },
    async close() {
      isClosed = true;
      await renderer.close();
    },
  };
}
