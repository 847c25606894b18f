import { DriverError, type Clock, type Turret } from '../../drivers/interfaces/index.ts';
import type { Faults } from './faults.ts';

const CHANGE_MS = 900;

export interface SimulatedTurret {
  readonly turret: Turret;
  /** Which objective is in place; for the simulated camera only. */
  inPlace(): number;
}

/** A motorised turret; each change takes a little under a second. */
export function createSimulatedTurret(clock: Clock, faults: Faults, positions: number): SimulatedTurret {
  let inPlace = 0;
  let isClosed = false;
  const check = () => {
    if (isClosed) throw new DriverError('closed', { device: 'turret' });
    faults.checkLine('turret');
  };
  const turret: Turret = {
    positions,
    async position() {
      check();
      return inPlace;
    },
    async moveTo(position) {
      check();
      const isOne = Number.isInteger(position) && position >= 0 && position < positions;
      if (!isOne) throw new DriverError('limit', { device: 'turret', position, positions });
      if (position === inPlace) return;
      await clock.sleep(CHANGE_MS);
      inPlace = position;
      check();
    },
    async close() {
      isClosed = true;
    },
  };
  return { turret, inPlace: () => inPlace };
}
