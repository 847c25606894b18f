import { DriverError, type Clock, type Lamp } from '../../drivers/interfaces/index.ts';
import { randomStream } from '../random.ts';
import type { Faults } from './faults.ts';

export interface SimulatedLamp {
  readonly lamp: Lamp;
  /** The fraction of full light that truly leaves it; for the simulated camera only. */
  trueIntensity(): number;
  /** What it was last set to, whatever its line makes of that; for onlookers in tests only. */
  setting(): number;
}

/** The lamp's light wanders by this share, slowly. */
const WANDER = 0.006;
const WANDER_PERIOD_MS = 2_220_000;

/**
 * A lamp whose light wanders a little.
 * @param share of the light that it gave when it was new
 */
export function createSimulatedLamp(clock: Clock, seed: number, faults: Faults, share = 1): SimulatedLamp {
  const phase = randomStream(seed, 'lamp', 'phase').between(0, 2 * Math.PI);
  const startMs = clock.now();
  let set = 0;
  let isClosed = false;
  const check = () => {
    if (isClosed) throw new DriverError('closed', { device: 'lamp' });
    faults.checkLine('lamp');
  };
  const lamp: Lamp = {
    async intensity() {
      check();
      return set;
    },
    async setIntensity(fraction) {
      check();
      if (!(fraction >= 0 && fraction <= 1)) throw new DriverError('lampLimit', { asked: fraction, min: 0, max: 1 });
      set = fraction;
    },
    async close() {
      isClosed = true;
    },
  };
  const wander = () => 1 + WANDER * Math.sin(phase + (2 * Math.PI * (clock.now() - startMs)) / WANDER_PERIOD_MS);
  /** What a fading lamp still gives, as a share. */
  const left = () => (faults.isFelt('fadeLamp') ? Math.max(0, 1 - faults.ageMs('fadeLamp') / faults.amount('fadeLamp')) : 1);
  return { lamp, trueIntensity: () => (faults.isFelt('loseLamp') ? 0 : share * set * wander() * left()), setting: () => set };
}
