import { DriverError, type Clock, type FieldStop } from '../../drivers/interfaces/index.ts';
import type { Faults } from './faults.ts';

export interface FieldStopBehaviour {
  /** Its image is sharp this much above the surface's focus. */
  readonly offsetUm: number;
}

export interface SimulatedFieldStop {
  readonly fieldStop: FieldStop;
  /** What is seen of it: how far it is open, and where its image is sharp; for the simulated camera only. */
  trueState(): { readonly opening: number; readonly offsetUm: number };
}

/** From open to closed. */
const TRAVEL_MS = 400;

/** A motorised field stop: its leaves move evenly, and its image is sharp at an offset from the surface. */
export function createSimulatedFieldStop(clock: Clock, faults: Faults, { offsetUm }: FieldStopBehaviour): SimulatedFieldStop {
  let opening = 1;
  let isClosed = false;
  const check = (): void => {
    if (isClosed) throw new DriverError('closed', { device: 'fieldStop' });
    faults.checkLine('fieldStop');
  };
  const fieldStop: FieldStop = {
    async opening() {
      check();
      return opening;
    },
    async setOpening(fraction) {
      check();
      if (!(fraction >= 0 && fraction <= 1)) throw new DriverError('limit', { device: 'fieldStop', asked: fraction, min: 0, max: 1 });
      await clock.sleep(TRAVEL_MS * Math.abs(fraction - opening));
      opening = fraction;
    },
    async close() {
      isClosed = true;
    },
  };
  return { fieldStop, trueState: () => ({ opening, offsetUm }) };
}
