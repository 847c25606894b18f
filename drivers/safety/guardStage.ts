import { distanceUm, type StageBox, type StagePoint } from '../../planner/units/index.ts';
import { DriverError, type MoveOptions, type SafetyLimits, type Stage } from '../interfaces/index.ts';
import { requireWithin, withSpeedLimit } from './bounds.ts';
import { takeReferenceAtRest } from './guardReference.ts';
import type { Watch } from './watch.ts';

function requireTarget(target: StagePoint, limits: SafetyLimits): void {
  requireWithin('limit', 'xUm', target.xUm, limits.xMinUm, limits.xMaxUm);
  requireWithin('limit', 'yUm', target.yUm, limits.yMinUm, limits.yMaxUm);
}

/** Throws unless the stage stands still and the focus drive is not moving near the chips. */
async function requireRest(watch: Watch, settleStage = () => watch.stage.settle()): Promise<void> {
  if (watch.stage.isMoving) throw new DriverError('unsupported', { what: 'two stage moves at once' });
  if (watch.focus.isMovingLow) throw new DriverError('unsafeHeight', { what: 'stage move while the focus drive moves below the safe height' });
  await settleStage();
  await watch.focus.settle();
}

/** An error that only homing ends may be all that a halted stage answers. */
async function settleForHoming({ stage }: Watch): Promise<void> {
  try {
    await stage.settle();
  } catch (error) {
    if (!(error instanceof DriverError && error.code === 'deviceError')) throw error;
  }
}

/** A homing that moves the objective as well: nothing else may move it, nor turn it away. */
function requireStillness({ focus, turret }: Watch): void {
  if (focus.isMoving) throw new DriverError('unsupported', { what: 'homing while the focus drive moves' });
  if (turret.isMoving) throw new DriverError('unsafeHeight', { what: 'homing while the turret turns' });
}

/** The options that a low move must be made with; throws when the move is too long, by either of two readings, or too fast for the height. */
async function lowMove(raw: Stage, watch: Watch, target: StagePoint, zUm: number, options: MoveOptions): Promise<MoveOptions> {
  const { maxLowTravelUm, maxLowSpeedUmPerS, safeHeightUm } = watch.limits;
  const lengthUm = Math.max(distanceUm(await raw.position(), target), distanceUm(await raw.position(), target));
  if (!(lengthUm <= maxLowTravelUm)) throw new DriverError('unsafeHeight', { what: 'stage move', lengthUm, maxLowTravelUm, zUm, safeHeightUm });
  return withSpeedLimit('stage', options, maxLowSpeedUmPerS);
}

/** Checks a move, and gives what starts it. */
async function checkMove(raw: Stage, watch: Watch, target: StagePoint, options: MoveOptions, isWanted: () => boolean): Promise<() => Promise<StagePoint>> {
  const { limits, stage } = watch;
  requireTarget(target, limits);
  await requireRest(watch);
  const zUm = await watch.lowestUm();
  const isLow = zUm < limits.safeHeightUm;
  const allowed = isLow ? await lowMove(raw, watch, target, zUm, options) : withSpeedLimit('stage', options, Number.POSITIVE_INFINITY);
  return () => stage.carryOut({ isLow, isWanted, send: () => raw.moveTo(target, allowed) });
}

/** Checks a homing, and gives what starts it. */
async function checkHoming(raw: Stage, watch: Watch, signal: AbortSignal | undefined, isWanted: () => boolean): Promise<() => Promise<void>> {
  const { safeHeightUm } = watch.limits;
  await requireRest(watch, () => settleForHoming(watch));
  if (raw.homingLifts) {
    requireStillness(watch);
    return () => watch.stage.carryOut({ isLow: true, lifts: true, isWanted, send: () => raw.home(signal) });
  }
  const zUm = await watch.lowestUm();
  if (zUm < safeHeightUm) throw new DriverError('unsafeHeight', { what: 'homing', zUm, safeHeightUm });
  return () => watch.stage.carryOut({ isLow: false, isWanted, send: () => raw.home(signal) });
}

/** The part of the travel inside the soft limits. */
function softTravel({ xMinUm, xMaxUm, yMinUm, yMaxUm }: StageBox, limits: SafetyLimits): StageBox {
  return {
    xMinUm: Math.max(xMinUm, limits.xMinUm),
    xMaxUm: Math.min(xMaxUm, limits.xMaxUm),
    yMinUm: Math.max(yMinUm, limits.yMinUm),
    yMaxUm: Math.min(yMaxUm, limits.yMaxUm),
  };
}

/** A stage that refuses `limit`, `unsafeHeight` and `tooFast` moves. Many short low moves are allowed: scanning is that; each is bounded. */
export function guardStage(raw: Stage, watch: Watch): Stage {
  const { limits, stage, focus } = watch;
  return {
    travel: softTravel(raw.travel, limits),
    position: () => raw.position(),
    state: () => raw.state(),
    async moveTo({ xUm, yUm }, options = {}) {
      // A copy: the caller may not change the target between check and move.
      const asked = { ...options };
      const isWanted = stage.asked(asked.signal);
      return watch.admit(() => checkMove(raw, watch, { xUm, yUm }, asked, isWanted));
    },
    async home(signal) {
      const [isStageWanted, isFocusWanted] = [stage.asked(signal), focus.asked()];
      // A stop of the objective calls off the homing too that would move it.
      return watch.admit(() => checkHoming(raw, watch, signal, () => isStageWanted() && (!raw.homingLifts || isFocusWanted())));
    },
    ...(raw.homingLifts ? { homingLifts: true } : {}),
    ...(raw.takeReference ? { takeReference: async () => takeReferenceAtRest(watch, async () => raw.takeReference?.()) } : {}),
    stop: () => stage.stop(),
    close: () => stage.close(),
  };
}
