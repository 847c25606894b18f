import { DriverError, type CameraInfo, type CameraSettings, type Region } from '../interfaces/index.ts';

/**
 * Holds what is asked of a camera that has one exposure and no gain against that; a region it can only cut out of its frames.
 * Throws `exposureRange`, or `unsupported` for a gain and for a region that is not whole pixels on the sensor.
 */
export function checkFixedSettings(info: CameraInfo, { exposureMs, gainDb, region }: CameraSettings): void {
  const isExposure = exposureMs >= info.exposureMinMs && exposureMs <= info.exposureMaxMs;
  if (!isExposure) throw new DriverError('exposureRange', { exposureMs, minMs: info.exposureMinMs, maxMs: info.exposureMaxMs });
  if (gainDb !== 0) throw new DriverError('unsupported', { setting: 'gainDb', asked: gainDb });
  if (region && !isOnSensor(region, info)) throw new DriverError('unsupported', { setting: 'region', ...region });
}

function isOnSensor({ colPx, rowPx, widthPx, heightPx }: Region, info: CameraInfo): boolean {
  const areWhole = [colPx, rowPx, widthPx, heightPx].every(Number.isSafeInteger);
  const isIn = colPx >= 0 && rowPx >= 0 && colPx + widthPx <= info.widthPx && rowPx + heightPx <= info.heightPx;
  return areWhole && widthPx > 0 && heightPx > 0 && isIn;
}
