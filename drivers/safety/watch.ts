import { DriverError, type FocusDrive, type Instrument, type SafetyLimits } from '../interfaces/index.ts';
import { Axis } from './axis.ts';

/** What the guards of one instrument share: its limits, who is moving, and a door that lets one move be checked at a time. */
export interface Watch {
  readonly limits: SafetyLimits;
  readonly stage: Axis;
  readonly focus: Axis;
  readonly turret: TurretWatch;
  /** Height of the objective as the drive reports it. Rejects with `badReply` when that is no number. */
  heightUm(): Promise<number>;
  /**
   * Checks a move, then starts it with nothing in between that could make the check untrue; resolves as the move does. Moves are
   * checked one after the other, but may be carried out at the same time.
   */
  admit<T>(check: () => Promise<() => Promise<T>>): Promise<T>;
}

/** A turret has no stop. After a change that failed it may stand between two objectives, until a change succeeds. */
export interface TurretWatch {
  isMoving: boolean;
  isInDoubt: boolean;
}

async function readHeight(focus: FocusDrive): Promise<number> {
  const zUm = await focus.position();
  if (!Number.isFinite(zUm)) throw new DriverError('badReply', { device: 'focus', zUm });
  return zUm;
}

export function createWatch(raw: Instrument, limits: SafetyLimits): Watch {
  let door: Promise<unknown> = Promise.resolve();
  return {
    limits,
    stage: new Axis('stage', raw.stage),
    focus: new Axis('focus', raw.focus),
    turret: { isMoving: false, isInDoubt: false },
    heightUm: () => readHeight(raw.focus),
    async admit<T>(check: () => Promise<() => Promise<T>>): Promise<T> {
      const started = door.then(async () => {
        const start = await check();
        // Wrapped, because the door must open as soon as the move has begun, not when it ends.
        return { motion: start() };
      });
      door = started.catch(() => undefined);
      return (await started).motion;
    },
  };
}
