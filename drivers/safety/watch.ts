import { DriverError, type FocusDrive, type Instrument, type SafetyLimits } from '../interfaces/index.ts';
import { Axis, type Haltable } from './axis.ts';

/** What the guards of one instrument share: its limits, who is moving, and a door that lets one move be checked at a time. */
export interface Watch {
  readonly limits: SafetyLimits;
  readonly stage: Axis;
  readonly focus: Axis;
  readonly turret: TurretWatch;
  /**
   * Height of the objective as the drive reports it, at the lowest. Nothing secures a figure on most lines: one that would let something
   * pass is asked for twice, so that a garbled one alone does not. Rejects with `badReply` when that is no number.
   */
  lowestUm(): Promise<number>;
  /** Whether a move to this height goes up, away from the chips, by two readings; false when it cannot be told. */
  isUpTo(zUm: number): Promise<boolean>;
  /** Throws, or rejects, unless the homing of the stage leaves the objective alone. */
  requireNoLift(what: string): Promise<void>;
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

async function lowestUm(focus: FocusDrive, safeHeightUm: number): Promise<number> {
  const zUm = await readHeight(focus);
  return zUm < safeHeightUm ? zUm : Math.min(zUm, await readHeight(focus));
}

async function isUpTo(focus: FocusDrive, zUm: number): Promise<boolean> {
  try {
    return (await readHeight(focus)) <= zUm && (await readHeight(focus)) <= zUm;
  } catch {
    return false;
  }
}

/** A line of checks: each waits for the one before it, and is followed at once by the start of what it let pass. */
function createDoor(): Watch['admit'] {
  let door: Promise<unknown> = Promise.resolve();
  return async <T>(check: () => Promise<() => Promise<T>>): Promise<T> => {
    const started = door.then(async () => {
      const start = await check();
      // Wrapped, because the door must open as soon as the move has begun, not when it ends.
      return { motion: start() };
    });
    door = started.catch(() => undefined);
    return (await started).motion;
  };
}

/** Where homing the stage moves the objective as well, it is not at rest before that is. */
function stageDevice({ stage, focus }: Instrument): Haltable {
  const place = async (): Promise<readonly number[]> => {
    const { xUm, yUm } = await stage.position();
    return stage.homingLifts ? [xUm, yUm, await focus.position()] : [xUm, yUm];
  };
  return { stop: () => stage.stop(), close: () => stage.close(), place };
}

function focusDevice({ focus }: Instrument): Haltable {
  return { stop: () => focus.stop(), close: () => focus.close(), place: async () => [await focus.position()] };
}

export function createWatch(raw: Instrument, limits: SafetyLimits): Watch {
  const stage = new Axis('stage', stageDevice(raw), raw.clock);
  return {
    limits,
    stage,
    focus: new Axis('focus', focusDevice(raw), raw.clock),
    turret: { isMoving: false, isInDoubt: false },
    lowestUm: () => lowestUm(raw.focus, limits.safeHeightUm),
    isUpTo: (zUm) => isUpTo(raw.focus, zUm),
    async requireNoLift(what) {
      if (stage.isLifting) throw new DriverError('unsafeHeight', { what: `${what} while homing moves the objective` });
      if (stage.mayLift) await stage.settle();
    },
    admit: createDoor(),
  };
}
