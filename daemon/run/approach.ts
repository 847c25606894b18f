import type { Instrument } from '../../drivers/interfaces/index.ts';
import { approachPath } from '../../planner/plan/kinematics.ts';
import { needsRaising } from '../../planner/plan/travel.ts';
import type { StagePoint } from '../../planner/units/index.ts';

/** z is left alone when it is nearer than this: a move would cost more than it brings. */
const zDeadBandUm = 0.05;

export interface TravelLimits {
  readonly backlashUm: number;
  readonly maxLowTravelUm: number;
  readonly safeHeightUm: number;
  /** From arrival until the picture stands: stage, and focus drive. */
  readonly settleMs: number;
  readonly focusSettleMs: number;
}

/**
 * Goes sideways to a target so that both axes arrive from their low side: the slack of the screws is then always taken up the same
 * way. The only place where backlash is handled; the plan's audit has kept room for the overshoot. On a way too long to go low the
 * objective is lifted first; it is never lowered here. Returns the position reported on arrival.
 */
export async function travelXy(instrument: Instrument, target: StagePoint, limits: TravelLimits, signal?: AbortSignal): Promise<StagePoint> {
  const from = await instrument.stage.position();
  if (needsRaising(from, target, limits.backlashUm, limits.maxLowTravelUm)) await raise(instrument, limits.safeHeightUm, signal);
  let at = from;
  for (const stop of approachPath(from, target, limits.backlashUm)) at = await instrument.stage.moveTo(stop, signal ? { signal } : {});
  return at;
}

/** Moves the focus drive unless it is there already. Returns the z reported. */
export async function travelZ(instrument: Instrument, zUm: number, signal?: AbortSignal): Promise<number> {
  const from = await instrument.focus.position();
  if (Math.abs(from - zUm) < zDeadBandUm) return from;
  return instrument.focus.moveTo(zUm, signal ? { signal } : {});
}

/** Lifts the objective to the safe height, if it is below. */
export async function raise(instrument: Instrument, safeHeightUm: number, signal?: AbortSignal): Promise<void> {
  const from = await instrument.focus.position();
  if (from < safeHeightUm) await instrument.focus.moveTo(safeHeightUm, signal ? { signal } : {});
}

/** Goes sideways, then to a height, then waits until the picture stands; stage and focus drive settle at the same time. Returns where the stage says it is. */
export async function goTo(instrument: Instrument, target: StagePoint, zUm: number, limits: TravelLimits, signal?: AbortSignal): Promise<StagePoint> {
  const { clock } = instrument;
  const atUm = await travelXy(instrument, target, limits, signal);
  const arrivedMs = clock.now();
  await travelZ(instrument, zUm, signal);
  const standsMs = Math.max(arrivedMs + limits.settleMs, clock.now() + limits.focusSettleMs);
  await clock.sleep(Math.max(0, standsMs - clock.now()), signal);
  return atUm;
}
