import type { Instrument } from '../../drivers/interfaces/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';

/** z is left alone when it is nearer than this: a move would cost more than it brings. */
const zDeadBandUm = 0.05;

/**
 * Moves sideways so that both axes arrive from their low side: the slack of the screws is then always taken up the same way. The
 * only place where backlash is handled; the plan's audit has kept room for the overshoot. Returns the position reported on arrival.
 */
export async function approachXy(instrument: Instrument, target: StagePoint, backlashUm: number, signal?: AbortSignal): Promise<StagePoint> {
  const options = signal ? { signal } : {};
  const from = await instrument.stage.position();
  const before = {
    xUm: target.xUm < from.xUm ? target.xUm - backlashUm : target.xUm,
    yUm: target.yUm < from.yUm ? target.yUm - backlashUm : target.yUm,
  };
  if (before.xUm !== target.xUm || before.yUm !== target.yUm) await instrument.stage.moveTo(before, options);
  return instrument.stage.moveTo(target, options);
}

/** Moves the focus drive unless it is there already. Returns the z reported. */
export async function approachZ(instrument: Instrument, zUm: number, signal?: AbortSignal): Promise<number> {
  const from = await instrument.focus.position();
  if (Math.abs(from - zUm) < zDeadBandUm) return from;
  return instrument.focus.moveTo(zUm, signal ? { signal } : {});
}

/** Travels to another part of the tray: objective up first whenever the way is too long to go low. Never lowers; the caller does. */
export async function travelXy(instrument: Instrument, target: StagePoint, limits: TravelLimits, signal?: AbortSignal): Promise<StagePoint> {
  const from = await instrument.stage.position();
  const wayUm = Math.hypot(target.xUm - from.xUm, target.yUm - from.yUm) + 2 * limits.backlashUm;
  if (wayUm > limits.maxLowTravelUm) await raise(instrument, limits.safeHeightUm, signal);
  return approachXy(instrument, target, limits.backlashUm, signal);
}

export interface TravelLimits {
  readonly backlashUm: number;
  readonly maxLowTravelUm: number;
  readonly safeHeightUm: number;
}

/** Lifts the objective to the safe height, if it is below. */
export async function raise(instrument: Instrument, safeHeightUm: number, signal?: AbortSignal): Promise<void> {
  const from = await instrument.focus.position();
  if (from < safeHeightUm) await instrument.focus.moveTo(safeHeightUm, signal ? { signal } : {});
}
