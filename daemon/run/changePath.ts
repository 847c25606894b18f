import type { Instrument } from '../../drivers/interfaces/index.ts';
import type { OpticalPath } from '../config/resolve.ts';
import { raise } from './approach.ts';
import { configureCamera } from './prepare.ts';

/**
 * Puts the instrument on an optical path: where another objective is in place, up to the safe height before the turret turns; then lamp
 * and camera. What is right already is left alone.
 */
export async function changePath(instrument: Instrument, path: Pick<OpticalPath, 'turretPosition' | 'lampIntensity' | 'exposureMs' | 'gainDb'>, safeHeightUm: number, signal: AbortSignal): Promise<void> {
  if ((await instrument.turret.position()) !== path.turretPosition) {
    await raise(instrument, safeHeightUm, signal);
    await instrument.turret.moveTo(path.turretPosition);
  }
  if ((await instrument.lamp.intensity()) !== path.lampIntensity) await instrument.lamp.setIntensity(path.lampIntensity);
  await configureCamera(instrument.camera, { exposureMs: path.exposureMs, gainDb: path.gainDb });
}
