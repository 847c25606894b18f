import type { Clock, Lamp, Turret } from '../../drivers/interfaces/index.ts';
import { openLampByHand } from '../../drivers/byHand/lamp.ts';
import { openTurretByHand } from '../../drivers/byHand/turret.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { RealDevices } from './devices.ts';
import { openCamera } from './openCamera.ts';
import { openControllers } from './openControllers.ts';

/** Whether the instrument file names any device that is not simulated. */
export function hasRealDevices({ stage, focus, camera, turret, lamp }: InstrumentConfig): boolean {
  return [stage, focus, camera, turret, lamp, ...(focus.fieldStop ? [focus.fieldStop] : [])].some(({ driver }) => driver !== 'simulated');
}

/** Whether no simulated device is needed beside the real ones. */
export function isAllReal({ stage, focus, camera, turret, lamp }: InstrumentConfig): boolean {
  return [stage, focus, camera, turret, lamp].every(({ driver }) => driver !== 'simulated');
}

/** Closes in the order given, each whatever became of the others; rejects with the first trouble. */
async function closeAll(closings: readonly (() => Promise<void>)[]): Promise<void> {
  const outcomes = await Promise.allSettled(closings.map((close) => close()));
  const failed = outcomes.find((outcome) => outcome.status === 'rejected');
  if (failed) throw failed.reason;
}

/**
 * Opens every device of the file that is not simulated: controllers first, the camera last, since it takes longest. Rejects with what the
 * drivers say, and closes what was opened.
 */
export async function openRealDevices(config: InstrumentConfig, clock: Clock): Promise<RealDevices> {
  const controllers = await openControllers(config, clock);
  try {
    const camera = await openCamera(config, clock);
    const byHand = devicesByHand(config);
    return { devices: { ...byHand, ...controllers.devices, ...(camera ? { camera } : {}) }, close: () => closeAll([...(camera ? [() => camera.close()] : []), () => controllers.close()]) };
  } catch (error) {
    await controllers.close();
    throw error;
  }
}

function devicesByHand({ turret, lamp }: InstrumentConfig): { readonly turret?: Turret; readonly lamp?: Lamp } {
  return { ...(turret.driver === 'byHand' ? { turret: openTurretByHand() } : {}), ...(lamp.driver === 'byHand' ? { lamp: openLampByHand() } : {}) };
}
