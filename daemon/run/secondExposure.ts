import type { Camera, CameraFrame } from '../../drivers/interfaces/index.ts';
import { pixelAreaUm2 } from '../../planner/units/index.ts';
import type { OpticalPath } from '../config/resolve.ts';
import { saturatedPixels } from '../vision/fullScale.ts';
import { configureCamera } from './prepare.ts';

/**
 * The second exposure is this share of the first: what is up to four times too bright comes into range, and the brightest of it still
 * has a quarter of a full pixel's electrons.
 */
const SHORTER = 0.25;
/** A camera that cannot go at least this much shorter is not asked. */
const SHORTER_LEAST = 0.7;
/** With more of the frame than this at full scale it is the exposure that is wrong, not a flake that is bright. */
const SATURATED_MOST = 0.5;

/** One place, as it was photographed. */
export interface Exposed {
  readonly frame: CameraFrame;
  /** The same at a shorter exposure, where the first one was partly too bright. */
  readonly short?: CameraFrame;
}

/** What of a night decides on a second exposure. */
export interface ExposureContext {
  readonly instrument: { readonly camera: Camera };
  readonly path: Pick<OpticalPath, 'exposureMs' | 'gainDb' | 'cameraToStageUm'>;
  readonly sheet: { readonly lookFor: { readonly leastUsableUm: number } };
}

/** Takes a tile's frame, and a second, shorter one where brightness is what is measured and part of the frame is too bright for that. */
export class TileCamera {
  private readonly context: ExposureContext;
  /** The camera was left at the shorter exposure: the way back failed. */
  private isShort = false;

  constructor(context: ExposureContext) {
    this.context = context;
  }

  /**
   * At most one frame more than the one, at once: the stage has not moved.
   * @param measuresBrightness whether a thickness is read from how bright a flake is; where layers are counted, what is too bright is thick
   * @param onExposed called when the stage may go on while the frame is read out; not where a second exposure may be needed
   */
  async expose(measuresBrightness: boolean, signal: AbortSignal, onExposed?: () => void): Promise<Exposed> {
    if (this.isShort) await this.setExposure(1);
    const { instrument, path } = this.context;
    const { camera } = instrument;
    const share = Math.max(SHORTER, camera.info.exposureMinMs / path.exposureMs);
    const isOne = !measuresBrightness || share > SHORTER_LEAST;
    const frame = await camera.snap(signal, isOne ? onExposed : undefined);
    if (isOne || !this.isPartlyTooBright(frame)) return { frame };
    try {
      await this.setExposure(share);
      return { frame, short: await camera.snap(signal) };
    } finally {
      await this.setExposure(1);
    }
  }

  /** As much at full scale as the smallest useful flake covers. */
  private isPartlyTooBright(frame: CameraFrame): boolean {
    const { path, sheet } = this.context;
    const leastUm2 = (Math.PI / 4) * sheet.lookFor.leastUsableUm ** 2;
    const saturated = saturatedPixels(frame);
    return saturated * pixelAreaUm2(path.cameraToStageUm) >= leastUm2 && saturated <= SATURATED_MOST * frame.widthPx * frame.heightPx;
  }

  private async setExposure(share: number): Promise<void> {
    const { instrument, path } = this.context;
    this.isShort = true;
    await configureCamera(instrument.camera, { exposureMs: path.exposureMs * share, gainDb: path.gainDb });
    this.isShort = share < 1;
  }
}
