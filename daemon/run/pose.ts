import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { OpticalPath } from '../config/resolve.ts';

/** How a frame of the whole sensor whose centre is here lies on the stage. */
export function poseOf({ config, path }: { readonly config: Pick<InstrumentConfig, 'camera'>; readonly path: Pick<OpticalPath, 'cameraToStageUm'> }, centreUm: StagePoint): FramePose {
  return { centreUm, cameraToStageUm: path.cameraToStageUm, widthPx: config.camera.widthPx, heightPx: config.camera.heightPx };
}
