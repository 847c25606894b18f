import { DriverError, type Lamp } from '../interfaces/index.ts';

/**
 * A lamp that only a person can switch. It takes the night's word for how bright it is, and never goes dark: whoever needs darkness asks
 * `isByHand` first. Rejects as every lamp does.
 */
export function openLampByHand(): Lamp {
  let fraction = 0;
  let isClosed = false;
  const requireOpen = (): void => {
    if (isClosed) throw new DriverError('closed', { device: 'lamp' });
  };
  return {
    isByHand: true,
    async intensity() {
      requireOpen();
      return fraction;
    },
    async setIntensity(asked) {
      requireOpen();
      if (!(asked >= 0 && asked <= 1)) throw new DriverError('lampLimit', { what: 'lamp intensity', asked, min: 0, max: 1 });
      fraction = asked;
    },
    async close() {
      isClosed = true;
    },
  };
}
