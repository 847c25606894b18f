import { DriverError, type Turret } from '../interfaces/index.ts';
import type { Watch } from './watch.ts';

/** A turret that turns only at or above the safe height, with the focus drive at rest. */
export function guardTurret(raw: Turret, watch: Watch): Turret {
  const { limits, turret, focus } = watch;
  const carryOut = async (position: number) => {
    turret.isMoving = true;
    turret.isInDoubt = true;
    try {
      await raw.moveTo(position);
      turret.isInDoubt = false;
    } finally {
      turret.isMoving = false;
    }
  };
  const change = async (position: number) => {
    const isOne = Number.isInteger(position) && position >= 0 && position < raw.positions;
    if (!isOne) throw new DriverError('limit', { what: 'turret position', asked: position, positions: raw.positions });
    if (turret.isMoving) throw new DriverError('unsupported', { what: 'two turret moves at once' });
    if (focus.isMoving) throw new DriverError('unsafeHeight', { what: 'turret change while the focus drive moves' });
    await watch.requireNoLift('turret change');
    await focus.settle();
    const zUm = await watch.lowestUm();
    if (zUm < limits.safeHeightUm) throw new DriverError('unsafeHeight', { what: 'turret change', zUm, safeHeightUm: limits.safeHeightUm });
    return () => carryOut(position);
  };
  return {
    positions: raw.positions,
    position: () => raw.position(),
    moveTo: async (position) => watch.admit(() => change(position)),
    close: () => raw.close(),
  };
}
