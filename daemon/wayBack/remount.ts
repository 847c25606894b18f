import { toChip, toStage, type ChipFrame, type MarkPair } from '../../planner/frames/chipFrame.ts';
import { fitChipFrame } from '../../planner/frames/marks.ts';
import { distanceUm, type ChipPoint, type StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import type { TileRecord } from '../records/types.ts';
import { lookAt, type Looking, type Seen } from './look.ts';

/** Marks may be off by this much on a stage that is not the one they were measured on: 0.3 % of 10 mm, and the hand that found them. */
const allowedMisfitUm = 60;
/** Marks are good to 30 um; a chip that lies farther off than twice that is another one. */
const marksReachUm = 60;
/** Two places of one chip agree on where it lies within this, and this share of their distance (a stage's scale error). */
const agreesUm = 12;
const agreesShare = 0.004;
/** Where a chip has but one place to look at, it must be as alike as this. */
const leastAlone = 0.7;
/** Once the chip is recognised, a flake is not farther off than this. */
const flakeReachUm = 30;
/** A flake counts as reached within this distance of the middle of the view. */
const reachedUm = 5;
/** Corrections towards a flake. */
const mostCorrections = 3;

/** A chip that was recognised where it lies now. */
export interface FoundChip {
  readonly frame: ChipFrame;
  readonly seen: Seen;
  /** How far the marks alone had been off there. */
  readonly marksOffUm: number;
  /** The marks were given the wrong way round: the chip lies turned by half a turn against them. */
  readonly isTurned: boolean;
}

/** A flake in the middle of the view. */
export interface FoundFlake {
  readonly atUm: StagePoint;
  /** How far it was from where the chip's frame had it. */
  readonly correctedUm: number;
  /** How far it still is from the middle of the view, by its picture. */
  readonly leftUm: number;
  readonly likeness: number;
}

/**
 * Recognises a chip that was laid down again: a coarse frame from its marks, then pictures of that night near its corners against what is
 * seen there now; half a turn is tried as well. Throws `marksRefused` and, when nothing looks alike, `notThisChip`: nothing drives on then.
 */
export async function findChip(looking: Looking, chip: string, marks: readonly MarkPair[], signal: AbortSignal): Promise<FoundChip> {
  const fit = fitChipFrame(marks, allowedMisfitUm);
  if (!fit.ok) throw new NightjarError('marksRefused', { chip, ...fit.refusal });
  let best = 0;
  for (const isTurned of [false, true]) {
    const recognised = await recognise(looking, isTurned ? halfTurned(fit.frame, marks) : fit.frame, signal);
    best = Math.max(best, recognised.likeness);
    if (recognised.found) return { ...recognised.found, isTurned };
  }
  throw new NightjarError('notThisChip', { chip, likeness: best });
}

/**
 * Looks at the chip's corners in turn until two of them look as they did and agree on where the chip lies: one place alone may be alike by
 * chance, a dark flake on another chip's dark flake.
 */
async function recognise(looking: Looking, believed: ChipFrame, signal: AbortSignal): Promise<{ readonly likeness: number; readonly found?: Omit<FoundChip, 'isTurned'> }> {
  const places = cornerTiles(looking);
  let first: { readonly seen: Seen; readonly placeUm: StagePoint } | undefined;
  let best = 0;
  for (const { centreUm } of places) {
    const seen = await lookAt(looking, toChip(looking.then, centreUm), first ? movedBy(believed, first.seen.offUm) : believed, marksReachUm, signal);
    best = Math.max(best, seen.likeness);
    if (!seen.isSame) continue;
    const offUm = Math.hypot(seen.offUm.xUm, seen.offUm.yUm);
    if (first && offUm > agreesUm + agreesShare * distanceUm(centreUm, first.placeUm)) return { likeness: best };
    if (first || (places.length === 1 && seen.likeness >= leastAlone)) {
      const one = first?.seen ?? seen;
      return { likeness: best, found: { frame: movedBy(believed, one.offUm), seen: one, marksOffUm: Math.hypot(one.offUm.xUm, one.offUm.yUm) } };
    }
    first = { seen, placeUm: centreUm };
  }
  return { likeness: best };
}

/**
 * Brings a flake of a recognised chip into the middle of the view: there, its own picture is matched and what is left is made up for.
 * Throws `doubtfulMatch` when what is seen there is not surely it, or does not come to rest.
 */
export async function goToFlake(looking: Looking, flake: { readonly id: string; readonly atChipUm: ChipPoint }, found: ChipFrame, signal: AbortSignal): Promise<FoundFlake> {
  let frame = found;
  let seen: Seen | undefined;
  for (let correction = 0; correction <= mostCorrections; correction++) {
    seen = await lookAt(looking, flake.atChipUm, frame, flakeReachUm, signal);
    if (!seen.isSame) throw new NightjarError('doubtfulMatch', { flakeId: flake.id, likeness: seen.likeness });
    const leftUm = Math.hypot(seen.offUm.xUm, seen.offUm.yUm);
    const atUm = toStage(frame, flake.atChipUm);
    if (leftUm <= reachedUm / 2 || (correction === mostCorrections && leftUm <= reachedUm)) {
      return { atUm, correctedUm: distanceUm(atUm, toStage(found, flake.atChipUm)), leftUm, likeness: seen.likeness };
    }
    frame = movedBy(frame, seen.offUm);
  }
  throw new NightjarError('doubtfulMatch', { flakeId: flake.id, likeness: seen?.likeness ?? 0 });
}

function movedBy(frame: ChipFrame, by: StagePoint): ChipFrame {
  return { ...frame, originUm: { xUm: frame.originUm.xUm + by.xUm, yUm: frame.originUm.yUm + by.yUm } };
}

/** The same chip turned about the middle of its marks by half a turn. */
function halfTurned(frame: ChipFrame, marks: readonly MarkPair[]): ChipFrame {
  const middle = marks.reduce((sum, { stageUm }) => ({ xUm: sum.xUm + stageUm.xUm / marks.length, yUm: sum.yUm + stageUm.yUm / marks.length }), { xUm: 0, yUm: 0 });
  return { originUm: { xUm: 2 * middle.xUm - frame.originUm.xUm, yUm: 2 * middle.yUm - frame.originUm.yUm }, angleDeg: frame.angleDeg + 180 };
}

/** Of each quarter of the chip the tile that shows most, the fullest first: what tells chips apart is what lies on them. */
function cornerTiles({ pictures }: Looking): readonly TileRecord[] {
  const { tiles } = pictures;
  const middle = tiles.reduce((sum, { centreUm }) => ({ xUm: sum.xUm + centreUm.xUm / tiles.length, yUm: sum.yUm + centreUm.yUm / tiles.length }), { xUm: 0, yUm: 0 });
  const fullest = new Map<string, TileRecord>();
  for (const tile of tiles) {
    const quarter = `${tile.centreUm.xUm > middle.xUm} ${tile.centreUm.yUm > middle.yUm}`;
    const before = fullest.get(quarter);
    if (!before || tile.detections.length > before.detections.length) fullest.set(quarter, tile);
  }
  return [...fullest.values()].sort((a, b) => b.detections.length - a.detections.length);
}
