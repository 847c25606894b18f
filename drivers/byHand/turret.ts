import { DriverError, type Turret } from '../interfaces/index.ts';

/** An objective that stays where it is: a turret of one position. Whoever turns it by hand changes the instrument file as well. */
export function openTurretByHand(): Turret {
  let isClosed = false;
  const requireOpen = (): void => {
    if (isClosed) throw new DriverError('closed', { device: 'turret' });
  };
  return {
    positions: 1,
    async position() {
      requireOpen();
      return 0;
    },
    async moveTo(asked) {
      requireOpen();
      if (asked !== 0) throw new DriverError('limit', { what: 'turret position', asked, positions: 1 });
    },
    async close() {
      isClosed = true;
    },
  };
}
