import { checkFixedSettings } from '../frames/fixedSettings.ts';
import { DriverError, type Camera, type CameraFrame, type CameraInfo, type Clock, type Region } from '../interfaces/index.ts';
import { cropFrame } from '../frames/cropFrame.ts';
import type { FrameSet } from './frameSet.ts';

/** Stored frames have no exposure of their own; this stands in for it in settings and in modelled time. */
const STORED_EXPOSURE_MS = 10;

export interface FrameSetCameraOptions {
  /** Begin again after the last frame; otherwise `snap` then rejects with `noFrame`. */
  readonly repeat?: boolean;
}

/** The first frame that can be read says what this camera delivers. */
async function firstReadable(set: FrameSet): Promise<CameraFrame> {
  let lastError: unknown;
  for (let index = 0; index < set.frames.length; index++) {
    try {
      return await set.readFrame(index);
    } catch (error) {
      lastError = error;
    }
  }
  throw lastError;
}

/**
 * A camera that plays the frames of a set in their order, one each snap. Exposure and gain cannot be changed. A missing or broken
 * image rejects that snap with `missingFile` or `brokenFile` and its name; the next snap goes on with the next frame.
 */
export async function openFrameSetCamera(set: FrameSet, clock: Clock, options: FrameSetCameraOptions = {}): Promise<Camera> {
  const { widthPx, heightPx, pixelFormat, bits } = await firstReadable(set);
  const exposures = { exposureMinMs: STORED_EXPOSURE_MS, exposureMaxMs: STORED_EXPOSURE_MS };
  const info: CameraInfo = { model: 'stored frames', widthPx, heightPx, pixelFormat, bits, ...exposures };
  let region: Region | undefined;
  let next = 0;
  let isClosed = false;
  const refuseIfClosed = () => {
    if (isClosed) throw new DriverError('closed', { device: 'camera' });
  };
  return {
    info,
    async configure(settings) {
      refuseIfClosed();
      checkFixedSettings(info, settings);
      region = settings.region;
      return settings;
    },
    async snap(signal, onExposed) {
      refuseIfClosed();
      if (signal?.aborted) throw new DriverError('stopped', { device: 'camera' });
      if (options.repeat) next %= set.frames.length;
      if (next >= set.frames.length) throw new DriverError('noFrame', { device: 'camera', frames: set.frames.length });
      const takenAtMs = clock.now();
      const frame = await clock.track(set.readFrame(next++), STORED_EXPOSURE_MS);
      if (signal?.aborted) throw new DriverError('stopped', { device: 'camera' });
      onExposed?.();
      const cut = region ? cropFrame(frame, region) : frame;
      return { ...cut, exposureMs: STORED_EXPOSURE_MS, takenAtMs };
    },
    async close() {
      isClosed = true;
    },
  };
}
