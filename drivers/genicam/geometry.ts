import { DriverError, type CameraSettings, type Region } from '../interfaces/index.ts';

/** What a camera can cut out of its picture along one axis, in pixels of the delivered frame. */
export interface AxisBounds {
  readonly minPx: number;
  readonly maxPx: number;
  /** Lengths go up in steps of this, from the smallest on. */
  readonly stepPx: number;
  /** Where a region may begin: multiples of this. */
  readonly offsetStepPx: number;
}

export interface SensorBounds {
  readonly across: AxisBounds;
  readonly down: AxisBounds;
}

/** What a setting is held against: read from the camera once, since the library does not check. */
export interface SettingBounds {
  readonly exposureMinMs: number;
  readonly exposureMaxMs: number;
  readonly gainMinDb: number;
  readonly gainMaxDb: number;
  readonly sensor: SensorBounds;
}

export function wholeSensor({ across, down }: SensorBounds): Region {
  return { colPx: 0, rowPx: 0, widthPx: across.maxPx, heightPx: down.maxPx };
}

/** The shortest piece that can be set and reaches from `startPx` over `lengthPx`; the whole axis when there is none. */
function enclosingPiece(startPx: number, lengthPx: number, { minPx, maxPx, stepPx, offsetStepPx }: AxisBounds): { readonly startPx: number; readonly lengthPx: number } {
  const multiple = (px: number) => Math.floor(px / offsetStepPx) * offsetStepPx;
  const shortest = minPx + Math.max(0, Math.ceil((lengthPx - minPx) / stepPx)) * stepPx;
  for (let length = shortest; length <= maxPx; length += stepPx) {
    const start = Math.min(multiple(startPx), multiple(maxPx - length));
    if (start + length >= startPx + lengthPx) return { startPx: start, lengthPx: length };
  }
  return { startPx: 0, lengthPx: maxPx };
}

/** The smallest region that the camera can be set to and that holds the one asked for; what is too much is cut off afterwards. */
export function enclosingRegion(region: Region, { across, down }: SensorBounds): Region {
  const col = enclosingPiece(region.colPx, region.widthPx, across);
  const row = enclosingPiece(region.rowPx, region.heightPx, down);
  return { colPx: col.startPx, rowPx: row.startPx, widthPx: col.lengthPx, heightPx: row.lengthPx };
}

export function sameRegion(a: Region, b: Region): boolean {
  return a.colPx === b.colPx && a.rowPx === b.rowPx && a.widthPx === b.widthPx && a.heightPx === b.heightPx;
}

function isOnSensor({ colPx, rowPx, widthPx, heightPx }: Region, { across, down }: SensorBounds): boolean {
  const areWhole = [colPx, rowPx, widthPx, heightPx].every(Number.isSafeInteger);
  return areWhole && colPx >= 0 && rowPx >= 0 && widthPx > 0 && heightPx > 0 && colPx + widthPx <= across.maxPx && rowPx + heightPx <= down.maxPx;
}

/** Throws `exposureRange`, or `unsupported` for gain and region, with the bounds. */
export function checkSettings({ exposureMs, gainDb, region }: CameraSettings, bounds: SettingBounds): void {
  const { exposureMinMs, exposureMaxMs, gainMinDb, gainMaxDb, sensor } = bounds;
  if (!(exposureMs >= exposureMinMs && exposureMs <= exposureMaxMs)) throw new DriverError('exposureRange', { exposureMs, minMs: exposureMinMs, maxMs: exposureMaxMs });
  if (!(gainDb >= gainMinDb && gainDb <= gainMaxDb)) throw new DriverError('unsupported', { setting: 'gainDb', asked: gainDb, min: gainMinDb, max: gainMaxDb });
  if (region && !isOnSensor(region, sensor)) throw new DriverError('unsupported', { setting: 'region', ...region });
}
