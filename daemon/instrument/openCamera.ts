import { openFrameSet, openFrameSetCamera } from '../../drivers/frameset/index.ts';
import { openGenicamCamera, type GenicamCamera } from '../../drivers/genicam/index.ts';
import { DriverError, type Camera, type Clock } from '../../drivers/interfaces/index.ts';
import { openRawVideoCamera } from '../../drivers/rawVideo/index.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { RealDevices } from './devices.ts';

type CameraConfig = InstrumentConfig['camera'];

/** Opens the camera of the instrument file, and holds it to what the file says of its pictures. Nothing where it is simulated. */
export async function openCamera({ camera: config }: InstrumentConfig, clock: Clock): Promise<RealDevices | undefined> {
  const camera = await cameraOf(config, clock);
  if (!camera) return undefined;
  try {
    requirePicture(camera, config);
    return { devices: { camera }, counters: () => ('counters' in camera ? { camera: { ...camera.facts, ...camera.counters } } : {}), close: () => camera.close() };
  } catch (error) {
    await camera.close();
    throw error;
  }
}

async function cameraOf(config: CameraConfig, clock: Clock): Promise<Camera | GenicamCamera | undefined> {
  if (config.driver === 'genicam' && config.genicam) return openGenicam(config.genicam, clock);
  if (config.driver === 'rawVideo' && config.rawVideo) return openRawVideoCamera({ ...config.rawVideo, widthPx: config.widthPx, heightPx: config.heightPx }, clock);
  if (config.driver === 'frameSet' && config.frameSet) return openFrameSetCamera(await openFrameSet(config.frameSet.folder), clock, { repeat: true });
  return undefined;
}

function openGenicam({ serial, address, pixelFormat, binning, packetSize, trigger, globalShutter }: NonNullable<CameraConfig['genicam']>, clock: Clock): Promise<GenicamCamera> {
  const camera = serial !== undefined ? { serial } : address !== undefined ? { address } : {};
  return openGenicamCamera({ clock, camera, binning, packetSize, triggering: trigger, ...(pixelFormat === undefined ? {} : { pixelFormat }), ...(globalShutter === undefined ? {} : { globalShutter }) });
}

/** Plan, calibration and classifier all go by the file: a camera that gives other pictures would have them measured wrongly. */
function requirePicture({ info }: Camera, config: CameraConfig): void {
  for (const setting of ['widthPx', 'heightPx', 'bits'] as const) {
    if (info[setting] !== config[setting]) throw new DriverError('settingsDiffer', { device: 'camera', setting, inTheFile: config[setting], ofTheCamera: info[setting] });
  }
}
