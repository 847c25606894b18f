import { DriverError, type Instrument } from '../../drivers/interfaces/index.ts';
import { planApproach } from '../../planner/frames/approach.ts';
import type { Polygon } from '../../planner/geometry/polygon.ts';
import { approachPath, SAME_PLACE_UM } from '../../planner/plan/kinematics.ts';
import { commandFor, FROM_BELOW, sampleAtUm, type PlayUm, type SlackSides } from '../../planner/plan/slack.ts';
import { lowHops, needsRaising, STEEPEST } from '../../planner/plan/travel.ts';
import { distanceUm, type StageBox, type StagePoint } from '../../planner/units/index.ts';

/** z is left alone when it is nearer than this: a move would cost more than it brings. */
const zDeadBandUm = 0.05;

export interface TravelLimits {
  readonly backlashUm: number;
  /** The slack as measured, where it was: it is then made up for instead of taken up. */
  readonly play?: Play;
  /** Heights are reached from this far below at least: more than the focus drive's play. Nothing is taken up when left out. */
  readonly takeUpUm?: number;
  readonly maxLowTravelUm: number;
  readonly safeHeightUm: number;
  /** The edge of the chip at hand: a long way that stays over it is gone low, in stretches, as the scan is. */
  readonly overUm?: Polygon<'stage'>;
  /** From arrival until the picture stands: stage, and focus drive. */
  readonly settleMs: number;
  readonly focusSettleMs: number;
}

/**
 * The measured slack, and the memory of how the stage was left: on which side of it each axis stands. A stage that is found elsewhere
 * than it was left (moved by hand, homed, stopped on its way) stands nobody knows how.
 */
export class Play {
  readonly um: PlayUm;
  private left: { readonly reportedUm: StagePoint; readonly sides: SlackSides } | undefined;

  constructor(um: PlayUm) {
    this.um = um;
  }

  sidesAt(reported: StagePoint): SlackSides | undefined {
    return this.left && distanceUm(this.left.reportedUm, reported) <= SAME_PLACE_UM ? this.left.sides : undefined;
  }

  leftAt(reportedUm: StagePoint, sides: SlackSides): void {
    this.left = { reportedUm, sides };
  }
}

/**
 * Goes sideways to a target. The only place where slack is handled: where it was measured, an axis that goes back goes further by it;
 * else, and wherever it is not known how the stage stands, both axes arrive from their low side, so that the slack is always taken up the
 * same way. The plan's audit has kept room for either. On a way too long to go low the objective is lifted first; it is never lowered
 * here. Returns where the sample is on arrival: what the stage reports, the slack made up for.
 */
export async function travelXy(instrument: Instrument, target: StagePoint, limits: TravelLimits, signal?: AbortSignal): Promise<StagePoint> {
  const from = await instrument.stage.position();
  let at = from;
  for (const stop of await stopsOnTheWay(instrument, from, target, limits, signal)) at = await arriveAt(instrument, stop, limits, signal);
  return at;
}

/** The stops of a way, the target last; the objective is lifted here as far as the way needs it. */
async function stopsOnTheWay(instrument: Instrument, from: StagePoint, target: StagePoint, limits: TravelLimits, signal: AbortSignal | undefined): Promise<readonly StagePoint[]> {
  const { backlashUm, maxLowTravelUm, safeHeightUm, overUm } = limits;
  if (!needsRaising(from, target, backlashUm, maxLowTravelUm)) return [target];
  const hops = overUm && lowHops(from, target, overUm, backlashUm, maxLowTravelUm);
  const zUm = await instrument.focus.position();
  if (hops && zUm < safeHeightUm) {
    await instrument.focus.moveTo(Math.min(safeHeightUm, zUm + STEEPEST * distanceUm(from, target)), signal ? { signal } : {});
    return hops;
  }
  await raise(instrument, safeHeightUm, signal);
  return [target];
}

async function arriveAt(instrument: Instrument, target: StagePoint, { play, backlashUm }: TravelLimits, signal: AbortSignal | undefined): Promise<StagePoint> {
  const from = await instrument.stage.position();
  const moveTo = async (stop: StagePoint): Promise<StagePoint> => instrument.stage.moveTo(stop, signal ? { signal } : {});
  const sides = play?.sidesAt(from);
  if (!play || !sides) {
    let at = from;
    // Where nothing is known of the slack that is to be made up for, both axes are pushed from below, those at their target too.
    const stops = play ? approachPath({ xUm: Infinity, yUm: Infinity }, target, backlashUm) : approachPath(from, target, backlashUm);
    for (const stop of stops) at = await moveTo(stop);
    play?.leftAt(at, FROM_BELOW);
    return at;
  }
  const { commandUm, sides: after } = commandFor(target, from, sides, play.um);
  const reported = await moveTo(commandUm);
  play.leftAt(reported, after);
  return sampleAtUm(reported, after, play.um);
}

/** Moves the focus drive unless it is there already. Returns the z reported. */
export async function travelZ(instrument: Instrument, zUm: number, signal?: AbortSignal): Promise<number> {
  const from = await instrument.focus.position();
  if (Math.abs(from - zUm) < zDeadBandUm) return from;
  return instrument.focus.moveTo(zUm, signal ? { signal } : {});
}

/**
 * Brings the focus drive to a height from below, as all heights are reached: one that lies lower is first passed by what takes up the
 * drive's play. Stays where it is when it is there already.
 */
export async function reachZ(instrument: Instrument, zUm: number, takeUpUm: number, signal?: AbortSignal): Promise<number> {
  const from = await instrument.focus.position();
  const belowUm = Math.max(instrument.focus.zMinUm, zUm - takeUpUm);
  if (from > zUm + zDeadBandUm && belowUm < zUm) await travelZ(instrument, belowUm, signal);
  return travelZ(instrument, zUm, signal);
}

/** Lifts the objective to the safe height, if it is below. */
export async function raise(instrument: Instrument, safeHeightUm: number, signal?: AbortSignal): Promise<void> {
  const from = await instrument.focus.position();
  if (from < safeHeightUm) await instrument.focus.moveTo(safeHeightUm, signal ? { signal } : {});
}

/** Goes sideways, then to a height, then waits until the picture stands. Returns where the stage says it is. */
export async function goTo(instrument: Instrument, target: StagePoint, zUm: number, limits: TravelLimits, signal?: AbortSignal): Promise<StagePoint> {
  const atUm = await travelXy(instrument, target, limits, signal);
  await setHeight(instrument, zUm, limits, signal);
  return atUm;
}

/** The stage has just arrived: goes to a height, then waits until the picture stands; stage and focus drive settle at the same time. */
export async function setHeight(instrument: Instrument, zUm: number, { takeUpUm, settleMs, focusSettleMs }: TravelLimits, signal?: AbortSignal): Promise<void> {
  const { clock } = instrument;
  const arrivedMs = clock.now();
  await reachZ(instrument, zUm, takeUpUm ?? 0, signal);
  const standsMs = Math.max(arrivedMs + settleMs, clock.now() + focusSettleMs);
  await clock.sleep(Math.max(0, standsMs - clock.now()), signal);
}

/** What a precise approach goes by. */
export type PreciseLimits = Pick<TravelLimits, 'backlashUm' | 'maxLowTravelUm' | 'safeHeightUm'>;

/**
 * Goes to a place that must be met precisely: the planner's steps, each ended before the next begins; both axes arrive from below, the
 * objective is never lowered while the stage moves. Returns where the stage says it is. Throws `limit` for a place that it cannot reach.
 */
export async function approachFromBelow({ stage, focus }: Instrument, targetUm: StagePoint, focusZUm: number, { backlashUm, maxLowTravelUm, safeHeightUm }: PreciseLimits, limits: StageBox, signal: AbortSignal): Promise<StagePoint> {
  const [fromUm, fromZUm] = [await stage.position(), await focus.position()];
  const planned = planApproach({ fromUm, fromZUm, targetUm, focusZUm, backlashUm, maxLowTravelUm, safeHeightUm, limits });
  if (!planned.ok) throw new DriverError('limit', { device: 'stage', ...planned.refusal });
  let atUm = fromUm;
  for (const step of planned.steps) {
    if (step.kind === 'moveXy') atUm = await stage.moveTo(step.toUm, { signal });
    else await focus.moveTo(step.zUm, { signal });
  }
  return atUm;
}
