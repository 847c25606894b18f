import { DriverError, type Instrument } from '../../drivers/interfaces/index.ts';
import { raise } from './approach.ts';

/** Whether the drive does not know its height. Rejects with any other trouble. */
export async function isHeightLost({ focus }: Pick<Instrument, 'focus'>): Promise<boolean> {
  try {
    await focus.position();
    return false;
  } catch (error) {
    if (error instanceof DriverError && error.code === 'positionLost') return true;
    throw error;
  }
}

/**
 * Has every axis that does not know where it is find its switches, the objective first, and leaves the objective at the safe height. The
 * gate watches over each step. Resolves with whether anything was homed. Rejects with `positionLost` where there is nothing to home by.
 */
export async function reference(instrument: Instrument, safeHeightUm: number, signal?: AbortSignal): Promise<boolean> {
  const { stage, focus } = instrument;
  const state = await stage.state();
  const heightIsLost = await isHeightLost(instrument);
  const homesTogether = heightIsLost && stage.homingLifts === true;
  if (heightIsLost && !homesTogether) {
    if (!focus.home) throw new DriverError('positionLost', { device: 'focus' });
    await focus.home(signal);
  }
  if (!homesTogether) await raise(instrument, safeHeightUm, signal);
  const homesStage = homesTogether || state === 'alarm' || state === 'positionLost';
  if (homesStage) await homeStage(instrument, signal);
  if (homesTogether) await raise(instrument, safeHeightUm, signal);
  return heightIsLost || homesStage;
}

async function homeStage({ stage }: Instrument, signal: AbortSignal | undefined): Promise<void> {
  try {
    await stage.home(signal);
  } catch (error) {
    if (error instanceof DriverError && error.code === 'unsupported') throw new DriverError('positionLost', { device: 'stage' }, { cause: error });
    throw error;
  }
}
