import { toChip, toStage, type ChipFrame, type MarkPair } from '../../planner/frames/chipFrame.ts';
import { framesFromCorner } from '../../planner/frames/cornerFrame.ts';
import { affineMap } from '../../planner/frames/localMap.ts';
import { fitChipFrame } from '../../planner/frames/marks.ts';
import { distanceUm, meanPoint, type ChipPoint, type StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import type { TileRecord } from '../records/types.ts';
import { lookAt, lookForCorner, marksReachUm, type Looking, type Seen } from './look.ts';

/** Marks may be off by this much, or this share of their distance, on a stage that is not the one they were measured on. */
const allowedMisfitUm = 60;
const allowedMisfitShare = 0.007;
/** Two places of one chip agree on where it lies within this, and the stage's scale error over their distance. */
const agreesUm = 12;
/** Scale errors of 0.3 % of other signs on both axes, and 1 mrad out of square. */
const stageErrorShare = 0.007;
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
  /** How alike the corners are to their pictures, the better of them. */
  readonly likeness: number;
  /** How far the marks alone had been off there. */
  readonly marksOffUm: number;
  readonly offUm: StagePoint;
  /** Where places of the chip were found: its marks, and the corners that were recognised. */
  readonly places: readonly MarkPair[];
  /** The marks were given the wrong way round: the chip lies turned by half a turn against them. */
  readonly isTurned: boolean;
}

/** A flake in the middle of the view. */
export interface FoundFlake {
  readonly atUm: StagePoint;
  /** How far it still is from the middle of the view, by its picture. */
  readonly leftUm: number;
  readonly likeness: number;
}

/** How a chip may lie, before it was looked at. */
interface Belief {
  readonly frame: ChipFrame;
  readonly isTurned: boolean;
  /** Places of the chip that are known to lie there. */
  readonly places: readonly MarkPair[];
}

/**
 * Recognises a chip that was laid down again: a coarse frame from its marks, then pictures of that night near its corners against what is
 * seen there now; half a turn is tried as well. Throws `marksRefused` and, when nothing looks alike, `notThisChip`: nothing drives on then.
 */
export function findChip(looking: Looking, chip: string, marks: readonly MarkPair[], signal: AbortSignal): Promise<FoundChip> {
  const apartUm = Math.max(0, ...marks.map(({ chipUm }) => distanceUm(chipUm, marks[0]?.chipUm ?? chipUm)));
  const fit = fitChipFrame(marks, Math.max(allowedMisfitUm, allowedMisfitShare * apartUm));
  if (!fit.ok) throw new NightjarError('marksRefused', { chip, ...fit.refusal });
  // Turned by half a turn the marks lie where the others were thought to be: they are no places to go by.
  return recogniseAny(looking, chip, [{ frame: fit.frame, isTurned: false, places: marks }, { frame: halfTurned(fit.frame, marks), isTurned: true, places: [] }], signal);
}

/** The same from a rough place of one of its corners: its edges there tell how it may lie, its pictures which corner it is. Throws `cornerNotFound`, too. */
export async function findChipByCorner(looking: Looking, chip: string, aboutUm: StagePoint, signal: AbortSignal): Promise<FoundChip> {
  const frames = framesFromCorner(await lookForCorner(looking, chip, aboutUm, signal), looking.outline);
  if (frames.length === 0) throw new NightjarError('cornerNotFound', { chip, edges: 2 });
  return recogniseAny(looking, chip, frames.map((frame) => ({ frame, isTurned: false, places: [] })), signal);
}

async function recogniseAny(looking: Looking, chip: string, beliefs: readonly Belief[], signal: AbortSignal): Promise<FoundChip> {
  let best = 0;
  let isFocused = false;
  for (const { frame, isTurned, places } of beliefs) {
    const recognised = await recognise(looking, frame, signal);
    best = Math.max(best, recognised.likeness);
    isFocused ||= recognised.isFocused;
    if (recognised.found) return { ...recognised.found, isTurned, places: [...places, ...recognised.found.places] };
  }
  if (!isFocused) throw new NightjarError('focusNotFound', { chip, triedUm: looking.context.sheet.focus.rangeUm });
  throw new NightjarError('notThisChip', { chip, likeness: best });
}

/** A corner that looks as it did. */
interface SeenCorner {
  readonly seen: Seen;
  readonly place: MarkPair;
}

interface Recognition {
  readonly likeness: number;
  readonly isFocused: boolean;
  readonly found?: Omit<FoundChip, 'isTurned'>;
}

/**
 * Looks at the chip's corners in turn until two of them look as they did and agree on where the chip lies: one place alone may be alike by
 * chance, a dark flake on another chip's dark flake.
 */
async function recognise(looking: Looking, believed: ChipFrame, signal: AbortSignal): Promise<Recognition> {
  const corners = cornerTiles(looking);
  const alike: SeenCorner[] = [];
  let best = 0;
  let isFocused = false;
  for (const { centreUm } of corners) {
    const chipUm = toChip(looking.then, centreUm);
    const reachUm = marksReachUm + (stageErrorShare / 2) * Math.hypot(chipUm.xUm, chipUm.yUm);
    const seen = await lookAt(looking, chipUm, believed, reachUm, signal);
    best = Math.max(best, seen.likeness);
    isFocused ||= seen.isFocused;
    if (!seen.isSame) continue;
    const at = toStage(believed, chipUm);
    const one = { seen, place: { chipUm, stageUm: { xUm: at.xUm + seen.offUm.xUm, yUm: at.yUm + seen.offUm.yUm } } };
    const other = alike.find((earlier) => agree(earlier, one));
    alike.push(one);
    const two = other ? [other, one] : corners.length === 1 && seen.likeness >= leastAlone ? [one] : undefined;
    if (two) return { likeness: best, isFocused, found: foundBy(two, believed) };
  }
  return { likeness: best, isFocused };
}

function agree(a: SeenCorner, b: SeenCorner): boolean {
  return distanceUm<'stage'>(a.seen.offUm, b.seen.offUm) <= agreesUm + stageErrorShare * distanceUm(a.place.chipUm, b.place.chipUm);
}

/** The believed frame moved by the mean of what the corners said. */
function foundBy(corners: readonly SeenCorner[], believed: ChipFrame): Omit<FoundChip, 'isTurned'> {
  const mean = meanPoint(corners.map(({ seen }) => seen.offUm));
  const likeness = Math.max(...corners.map(({ seen }) => seen.likeness));
  return { frame: movedBy(believed, mean), likeness, marksOffUm: Math.hypot(mean.xUm, mean.yUm), offUm: mean, places: corners.map(({ place }) => place) };
}

/**
 * Brings a flake of a recognised chip into the middle of the view: there, its own picture is matched and what is left is made up for.
 * Throws `doubtfulMatch` when what is seen there is not surely it, or does not come to rest.
 */
export async function goToFlake(looking: Looking, flake: { readonly id: string; readonly atChipUm: ChipPoint }, found: FoundChip, signal: AbortSignal): Promise<FoundFlake> {
  const begin = toStage(found.frame, flake.atChipUm);
  const better = affineMap(found.places)?.(flake.atChipUm) ?? begin;
  let frame = movedBy(found.frame, { xUm: better.xUm - begin.xUm, yUm: better.yUm - begin.yUm });
  let seen: Seen | undefined;
  for (let correction = 0; correction <= mostCorrections; correction++) {
    seen = await lookAt(looking, flake.atChipUm, frame, flakeReachUm, signal);
    if (!seen.isSame) throw new NightjarError('doubtfulMatch', { flakeId: flake.id, likeness: seen.likeness });
    const leftUm = Math.hypot(seen.offUm.xUm, seen.offUm.yUm);
    const atUm = toStage(frame, flake.atChipUm);
    if (leftUm <= reachedUm / 2 || (correction === mostCorrections && leftUm <= reachedUm)) {
      return { atUm, leftUm, likeness: seen.likeness };
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
  const middle = meanPoint(marks.map(({ stageUm }) => stageUm));
  return { originUm: { xUm: 2 * middle.xUm - frame.originUm.xUm, yUm: 2 * middle.yUm - frame.originUm.yUm }, angleDeg: frame.angleDeg + 180 };
}

/** Of each quarter of the chip the tile that shows most, the fullest first: what tells chips apart is what lies on them. */
function cornerTiles({ pictures }: Looking): readonly TileRecord[] {
  const { tiles } = pictures;
  const middle = meanPoint(tiles.map(({ centreUm }) => centreUm));
  const fullest = new Map<string, TileRecord>();
  for (const tile of tiles) {
    const quarter = `${tile.centreUm.xUm > middle.xUm} ${tile.centreUm.yUm > middle.yUm}`;
    const before = fullest.get(quarter);
    if (!before || tile.detections.length > before.detections.length) fullest.set(quarter, tile);
  }
  return [...fullest.values()].sort((a, b) => b.detections.length - a.detections.length);
}
