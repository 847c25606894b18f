import { DriverError, type FocusDrive, type MoveOptions } from '../interfaces/index.ts';
import { requireWithin, withSpeedLimit } from './bounds.ts';
import type { Watch } from './watch.ts';

/** Where a focus move begins; `undefined` when the drive does not say, and the worst must be assumed. */
async function startOf(watch: Watch): Promise<number | undefined> {
  try {
    return await watch.heightUm();
  } catch {
    return undefined;
  }
}

/** Throws when something else moves, or may be moving, in a way that a focus move near the chips must not meet. */
async function requireRest(watch: Watch, isRaising: boolean): Promise<void> {
  if (watch.stage.isMoving) throw new DriverError('unsafeHeight', { what: 'focus move below the safe height while the stage moves' });
  // Going up is always away from the chips: it must be possible even when the stage's line is dead.
  if (isRaising) return;
  await watch.stage.settle();
  if (watch.turret.isMoving || watch.turret.isInDoubt) throw new DriverError('unsafeHeight', { what: 'lowering while the turret is not in place' });
}

/** A focus drive that refuses `limit`, `tooFast` and `unsafeHeight` moves. */
export function guardFocus(raw: FocusDrive, watch: Watch): FocusDrive {
  const { limits, focus } = watch;
  const zMinUm = Math.max(raw.zMinUm, limits.zMinUm);
  const zMaxUm = Math.min(raw.zMaxUm, limits.zMaxUm);
  const move = async (zUm: number, options: MoveOptions, stopsBefore: number) => {
    requireWithin('limit', 'zUm', zUm, limits.zMinUm, limits.zMaxUm);
    if (focus.isMoving) throw new DriverError('unsupported', { what: 'two focus moves at once' });
    await focus.settle();
    const fromUm = await startOf(watch);
    const isLow = fromUm === undefined || fromUm < limits.safeHeightUm || zUm < limits.safeHeightUm;
    const isRaising = fromUm !== undefined && zUm >= fromUm;
    if (isLow) await requireRest(watch, isRaising);
    else if (watch.turret.isMoving) throw new DriverError('unsafeHeight', { what: 'focus move while the turret turns' });
    const allowed = withSpeedLimit('focus', options, isLow ? limits.maxLowFocusSpeedUmPerS : Number.POSITIVE_INFINITY);
    return () => focus.carryOut({ isLow, stopsBefore, signal: options.signal, send: () => raw.moveTo(zUm, allowed) });
  };
  // Up is away from the chips, and it may be needed to know the height at all: only what moves sideways, or turns, forbids it.
  const home = async (signal: AbortSignal | undefined, stopsBefore: number) => {
    if (focus.isMoving) throw new DriverError('unsupported', { what: 'two focus moves at once' });
    if (watch.stage.isMoving || watch.turret.isMoving) throw new DriverError('unsafeHeight', { what: 'homing the focus drive while something else moves' });
    await focus.settle();
    return () => focus.carryOut({ isLow: true, stopsBefore, signal, send: async () => raw.home?.(signal) });
  };
  const homeFrom = (signal: AbortSignal | undefined) => {
    const stops = focus.stops;
    return watch.admit(() => home(signal, stops));
  };
  const takeReference = async () => {
    if (focus.isMoving) throw new DriverError('unsupported', { what: 'a reference while the focus drive moves' });
    return async () => raw.takeReference?.();
  };
  return {
    zMinUm,
    zMaxUm,
    position: () => raw.position(),
    async moveTo(zUm, options = {}) {
      const asked = { ...options };
      const stops = focus.stops;
      return watch.admit(() => move(zUm, asked, stops));
    },
    ...(raw.home ? { home: async (signal?: AbortSignal) => homeFrom(signal) } : {}),
    ...(raw.takeReference ? { takeReference: async () => watch.admit(takeReference) } : {}),
    stop: () => focus.stop(),
    close: () => raw.close(),
  };
}
