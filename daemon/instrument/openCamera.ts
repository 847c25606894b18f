import type { Camera, Clock } from '../../drivers/interfaces/index.ts';
import { openFrameSet, openFrameSetCamera } from '../../drivers/frameset/index.ts';
import { DriverError } from '../../drivers/interfaces/index.ts';
import type { InstrumentConfig } from '../config/instrument.ts';

type CameraConfig = InstrumentConfig['camera'];

/** Opens the camera of the instrument file, and holds it to what the file says of its pictures. Nothing where it is simulated. */
export async function openCamera({ camera: config }: InstrumentConfig, clock: Clock): Promise<Camera | undefined> {
  const camera = await cameraOf(config, clock);
  if (!camera) return undefined;
  try {
    requirePicture(camera, config);
    return camera;
  } catch (error) {
    await camera.close();
    throw error;
  }
}

async function cameraOf(config: CameraConfig, clock: Clock): Promise<Camera | undefined> {
  if (config.driver === 'frameSet' && config.frameSet) return openFrameSetCamera(await openFrameSet(config.frameSet.folder), clock, { repeat: true });
  return undefined;
}

/** Plan, calibration and classifier all go by the file: a camera that gives other pictures would have them measured wrongly. */
function requirePicture({ info }: Camera, config: CameraConfig): void {
  for (const setting of ['widthPx', 'heightPx', 'bits'] as const) {
    if (info[setting] !== config[setting]) throw new DriverError('settingsDiffer', { device: 'camera', setting, inTheFile: config[setting], ofTheCamera: info[setting] });
  }
}
