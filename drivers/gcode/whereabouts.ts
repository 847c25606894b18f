/** What is known about where the motors are. Machine mm, in the order X, Y, Z. A value, never changed in place. */
export interface Whereabouts {
  /** Why the count is not to be trusted; `undefined` while it is. */
  readonly lostBecause: string | undefined;
  /** Alarm that the controller stands in; 0 where it did not say which. */
  readonly alarm: number | undefined;
  /** Where they rest, to the step; `undefined` while something moves, or may have moved. */
  readonly restMm: readonly number[] | undefined;
  /** The way that is being gone, or was when sight of it was lost. */
  readonly way: { readonly fromMm: readonly number[]; readonly toMm: readonly number[] } | undefined;
  /** Last position that was believed, and when. */
  readonly seen: { readonly mm: readonly number[]; readonly atMs: number } | undefined;
}

/** Nothing is known yet. */
export const NOWHERE: Whereabouts = { lostBecause: 'it was not homed since this program began', alarm: undefined, restMm: undefined, way: undefined, seen: undefined };

/** Positions are printed in whole um, and rounded there; a step may fall on either side. */
const SAME_MM = 0.0011;
/** How far off a straight way a report may lie: its axes are read one after another. */
const OFF_WAY_MM = 0.02;
/** How much earlier or later than its report a position may have been read. */
const READ_WITHIN_MS = 30;

/** Whether a report shows this very place. */
export function isSamePlace(a: readonly number[], b: readonly number[]): boolean {
  return a.length > 0 && a.every((mm, axis) => Math.abs(mm - (b[axis] ?? Number.NaN)) <= SAME_MM);
}

/** Every axis at zero: what a controller counts from after a restart, wherever its motors are. */
export function isFreshCount(mm: readonly number[]): boolean {
  return mm.every((value) => Math.abs(value) <= SAME_MM);
}

function isOnWay({ fromMm, toMm }: { readonly fromMm: readonly number[]; readonly toMm: readonly number[] }, mm: readonly number[]): boolean {
  const along = fromMm.map((from, axis) => (toMm[axis] ?? from) - from);
  const length2 = along.reduce((sum, part) => sum + part * part, 0);
  const gone = along.reduce((sum, part, axis) => sum + part * ((mm[axis] ?? Number.NaN) - (fromMm[axis] ?? 0)), 0);
  const share = length2 === 0 ? 0 : Math.min(1, Math.max(0, gone / length2));
  return along.every((part, axis) => Math.abs((mm[axis] ?? Number.NaN) - (fromMm[axis] ?? 0) - share * part) <= OFF_WAY_MM);
}

/**
 * Whether the motors can be where a report has them, after what is known: at rest just there, under way on the straight way and no further from where
 * they were last seen than top speed allows (`maxSpeedMmPerS`, an axis each).
 */
export function isPossible(known: Whereabouts, mm: readonly number[], nowMs: number, maxSpeedMmPerS: readonly number[]): boolean {
  if (known.restMm) return isSamePlace(mm, known.restMm);
  if (!known.way || !known.seen) return true;
  const { seen } = known;
  const inS = (nowMs - seen.atMs + READ_WITHIN_MS) / 1000;
  const isNear = mm.every((value, axis) => Math.abs(value - (seen.mm[axis] ?? Number.NaN)) <= (maxSpeedMmPerS[axis] ?? 0) * inS + SAME_MM);
  return isNear && isOnWay(known.way, mm);
}

export function setOut(known: Whereabouts, fromMm: readonly number[], toMm: readonly number[], nowMs: number): Whereabouts {
  return { ...known, restMm: undefined, way: { fromMm, toMm }, seen: { mm: fromMm, atMs: nowMs } };
}

export function seenAt(known: Whereabouts, mm: readonly number[], atMs: number): Whereabouts {
  return { ...known, seen: { mm, atMs } };
}

export function atRest(known: Whereabouts, mm: readonly number[], atMs: number): Whereabouts {
  return { ...known, restMm: mm, way: undefined, seen: { mm, atMs } };
}

/** Homed, or put at its reference place: known again, and free. */
export function found(mm: readonly number[], atMs: number): Whereabouts {
  return { lostBecause: undefined, alarm: undefined, restMm: mm, way: undefined, seen: { mm, atMs } };
}

export function lost(known: Whereabouts, because: string): Whereabouts {
  return { ...known, lostBecause: because, restMm: undefined, way: undefined };
}

/** Alarms after which the documentation of grbl 1.1 keeps the position: a target beyond the soft limits, and a probe that did not touch (from memory). */
const KEEPS_POSITION: ReadonlySet<number> = new Set([2, 4, 5]);

export function alarmed(known: Whereabouts, alarm: number): Whereabouts {
  return KEEPS_POSITION.has(alarm) ? { ...known, alarm } : { ...lost(known, `alarm ${alarm}`), alarm };
}

/**
 * What to think of a controller that was out of sight (unplugged, silent, or another program had it) and now stands at `mm`. It is believed only
 * where it stands as it should: at the place of rest, or on the way that it was going. On a way, all zeros prove nothing: that is what a restart
 * gives. (At rest in the machine's zero a restart would do no harm: the count is then right all the same.)
 */
export function onReturn(known: Whereabouts, mm: readonly number[], nowMs: number): Whereabouts {
  if (known.lostBecause !== undefined) return known;
  if (!known.restMm && isFreshCount(mm)) return lost(known, 'it may have lost power: it counts from zero');
  const isAsLeft = known.restMm ? isSamePlace(mm, known.restMm) : known.way !== undefined && isOnWay(known.way, mm);
  if (!isAsLeft) return lost(known, 'it does not stand where it stood before');
  const stands = known.restMm ?? (known.way && isSamePlace(mm, known.way.toMm) ? known.way.toMm : mm);
  return atRest(known, stands, nowMs);
}
