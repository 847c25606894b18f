import { DriverError, type Camera, type CameraSettings, type Lamp, type SafetyLimits } from '../interfaces/index.ts';
import { requireWithin } from './bounds.ts';

/** A lamp that refuses with `lampLimit` what is below 0 or above the limit. */
export function guardLamp(raw: Lamp, limits: SafetyLimits): Lamp {
  return {
    ...(raw.isByHand ? { isByHand: true } : {}),
    intensity: () => raw.intensity(),
    async setIntensity(fraction) {
      requireWithin('lampLimit', 'lamp intensity', fraction, 0, limits.maxLampIntensity);
      return raw.setIntensity(fraction);
    },
    close: () => raw.close(),
  };
}

function requireNumbers({ exposureMs, gainDb, region }: CameraSettings): void {
  if (!(exposureMs > 0 && Number.isFinite(exposureMs))) throw new DriverError('exposureRange', { exposureMs });
  if (!Number.isFinite(gainDb)) throw new DriverError('unsupported', { setting: 'gainDb', asked: gainDb });
  const areWhole = !region || [region.colPx, region.rowPx, region.widthPx, region.heightPx].every(Number.isSafeInteger);
  if (!areWhole) throw new DriverError('unsupported', { setting: 'region', ...region });
}

/** A camera that is never sent what is no number. */
export function guardCamera(raw: Camera): Camera {
  return {
    info: raw.info,
    async configure({ exposureMs, gainDb, region }) {
      // A copy: the caller may not change it between check and use.
      const settings = { exposureMs, gainDb, ...(region ? { region: { ...region } } : {}) };
      requireNumbers(settings);
      return raw.configure(settings);
    },
    snap: (signal, onExposed) => raw.snap(signal, onExposed),
    close: () => raw.close(),
  };
}
