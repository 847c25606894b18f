import type { Clock, Lamp, Turret } from '../../drivers/interfaces/index.ts';
import { openLampByHand } from '../../drivers/byHand/lamp.ts';
import { openTurretByHand } from '../../drivers/byHand/turret.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { allClosed, type RealDevices } from './devices.ts';
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

/**
 * Opens every device of the file that is not simulated: controllers first, the camera last, since it takes longest. Rejects with what the
 * drivers say, and closes what was opened.
 */
export async function openRealDevices(config: InstrumentConfig, clock: Clock): Promise<RealDevices> {
  const controllers = await openControllers(config, clock);
  try {
    const camera = await openCamera(config, clock);
    return {
      devices: { ...devicesByHand(config), ...controllers.devices, ...camera?.devices },
      counters: () => ({ ...controllers.counters(), ...camera?.counters() }),
      // Each whatever becomes of the other.
      close: () => allClosed([camera?.close() ?? Promise.resolve(), controllers.close()]),
    };
  } catch (error) {
    await controllers.close().catch(() => undefined);
    throw error;
  }
}

function devicesByHand({ turret, lamp }: InstrumentConfig): { readonly turret?: Turret; readonly lamp?: Lamp } {
  return { ...(turret.driver === 'byHand' ? { turret: openTurretByHand() } : {}), ...(lamp.driver === 'byHand' ? { lamp: openLampByHand() } : {}) };
}
