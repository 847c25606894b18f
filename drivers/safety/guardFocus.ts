import { DriverError, type FocusDrive, type MoveOptions } from '../interfaces/index.ts';
import { requireWithin, withSpeedLimit } from './bounds.ts';
import { takeReferenceAtRest } from './guardReference.ts';
import type { Watch } from './watch.ts';

/** Whether a move begins or ends below the safe height. Where the drive does not say, the worst is assumed. */
async function isLowMove(watch: Watch, zUm: number): Promise<boolean> {
  const { safeHeightUm } = watch.limits;
  if (zUm < safeHeightUm) return true;
  try {
    return (await watch.lowestUm()) < safeHeightUm;
  } catch {
    return true;
  }
}

/** Away from the chips, or to a height above them all. */
async function isSafeWay(watch: Watch, zUm: number): Promise<boolean> {
  return zUm >= watch.limits.safeHeightUm || watch.isUpTo(zUm);
}

/** What is in doubt is halted first; a look at it is spared where it may cost the way up. */
async function requireOwnRest(watch: Watch, zUm: number): Promise<void> {
  const { focus } = watch;
  if (!focus.isInDoubt) return;
  await ((await isSafeWay(watch, zUm)) ? focus.halt() : focus.settle());
}

/**
 * Throws when something else moves, or may be moving, in a way that a focus move near the chips must not meet. Going up is always away
 * from the chips: it must be possible even when the stage is under way, or its line dead. So must a move that ends above them all.
 */
async function requireRest(watch: Watch, zUm: number): Promise<void> {
  const { stage, turret } = watch;
  const isAlone = !stage.isMoving && !stage.isInDoubt && !turret.isMoving && !turret.isInDoubt;
  if (isAlone || (await isSafeWay(watch, zUm))) return;
  if (stage.isMoving) throw new DriverError('unsafeHeight', { what: 'lowering while the stage moves' });
  await stage.settle();
  if (turret.isMoving || turret.isInDoubt) throw new DriverError('unsafeHeight', { what: 'lowering while the turret is not in place' });
}

/** Checks a focus move, and gives what starts it. */
async function checkMove(raw: FocusDrive, watch: Watch, zUm: number, options: MoveOptions, isWanted: () => boolean): Promise<() => Promise<number>> {
  const { limits, focus } = watch;
  requireWithin('limit', 'zUm', zUm, limits.zMinUm, limits.zMaxUm);
  if (focus.isMoving) throw new DriverError('unsupported', { what: 'two focus moves at once' });
  await watch.requireNoLift('focus move');
  await requireOwnRest(watch, zUm);
  const isLow = await isLowMove(watch, zUm);
  if (isLow) await requireRest(watch, zUm);
  else if (watch.turret.isMoving) throw new DriverError('unsafeHeight', { what: 'focus move while the turret turns' });
  const allowed = withSpeedLimit('focus', options, isLow ? limits.maxLowFocusSpeedUmPerS : Number.POSITIVE_INFINITY);
  return () => focus.carryOut({ isLow, isWanted, send: () => raw.moveTo(zUm, allowed) });
}

/** Up is away from the chips, and it may be needed to know the height at all: only what moves sideways, or turns, forbids it. */
async function checkHoming(raw: FocusDrive, watch: Watch, signal: AbortSignal | undefined, isWanted: () => boolean): Promise<() => Promise<void>> {
  const { focus, stage, turret } = watch;
  if (focus.isMoving) throw new DriverError('unsupported', { what: 'two focus moves at once' });
  if (stage.isMoving || turret.isMoving) throw new DriverError('unsafeHeight', { what: 'homing the focus drive while something else moves' });
  await watch.requireNoLift('homing the focus drive');
  await focus.halt();
  return () => focus.carryOut({ isLow: true, isWanted, send: async () => raw.home?.(signal) });
}

/** A focus drive that refuses `limit`, `tooFast` and `unsafeHeight` moves. */
export function guardFocus(raw: FocusDrive, watch: Watch): FocusDrive {
  const { limits, focus, stage } = watch;
  return {
    zMinUm: Math.max(raw.zMinUm, limits.zMinUm),
    zMaxUm: Math.min(raw.zMaxUm, limits.zMaxUm),
    position: () => raw.position(),
    async moveTo(zUm, options = {}) {
      const asked = { ...options };
      const isWanted = focus.asked(asked.signal);
      return watch.admit(() => checkMove(raw, watch, zUm, asked, isWanted));
    },
    ...(raw.home
      ? {
          async home(signal?: AbortSignal) {
            const isWanted = focus.asked(signal);
            return watch.admit(() => checkHoming(raw, watch, signal, isWanted));
          },
        }
      : {}),
    ...(raw.takeReference ? { takeReference: async () => takeReferenceAtRest(watch, async () => raw.takeReference?.()) } : {}),
    async stop() {
      // Whoever stops the objective means the homing too that moves it.
      const isLifted = stage.isLifting || stage.mayLift;
      await Promise.all([focus.stop(), ...(isLifted ? [stage.stop()] : [])]);
    },
    close: () => focus.close(),
  };
}
