import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { expectFocus, LEAST_REACH, type FocusExpectation } from '../../planner/focus/prediction.ts';
import { errorAtUm, fitFocusSurface, LEAST_FOCUS_POINTS, zAtUm, type FocusSurface } from '../../planner/focus/surface.ts';
import { NOTHING_WATCHED, watchSharpness, type SharpnessWatch } from '../../planner/focus/watch.ts';
import { repeatedPoint } from '../../planner/plan/focusPoints.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import { distanceUm, stageToPixel, type FramePose, type StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import { reachZ, travelXy } from './approach.ts';
import type { NightContext } from './context.ts';
import { samplesOf, type FramePlace } from './focusMeasure.ts';
import { edgesOf, otherPlaces, SeenPlaces } from './focusPlaces.ts';
import { depthOfFieldOf, lookAt, measurePoint, setWindow, type FocusPlace, type MeasuredPoint } from './focusPoint.ts';
import { poseOf } from './pose.ts';
import { snapThen } from './snapThen.ts';

/** What a chip's focus points gave. */
export interface MappedFocus {
  readonly measured: readonly MeasuredPoint[];
  readonly surface: FocusSurface;
  /** The frames in focus: tiles that show the same are held against them. */
  readonly watch: SharpnessWatch;
  /** Points at which there was nothing to focus on, nor anywhere near. */
  readonly blank: number;
  /** Points measured twice, since one among them had to be wrong. */
  readonly again: number;
  /** Points added where the surface was not known well enough. */
  readonly added: number;
  /** The point that was measured once more at the end, and what came of it. */
  readonly repeated?: { readonly before: MeasuredPoint; readonly after: MeasuredPoint };
  /** By how much focus jumped while the points were measured, which were then all measured again. */
  readonly jumpUm?: number;
}

/** What a mapping needs to know of the night. */
export type MappingContext = Pick<NightContext, 'instrument' | 'path' | 'config' | 'travel' | 'plan' | 'sheet'>;

export interface MappingListener {
  /** Told before each point. */
  point(done: number, of: number): void;
  /** One frame in focus at each point: the first guess of the flat field. */
  frame(frame: CameraFrame, atUm: StagePoint): void;
}

/** Doubtful points that are measured again: bad ones, and those among which one is bad though none can tell which. */
const mostRemeasured = 4;
/** Points added to the planned ones where these leave the surface too uncertain: some had no texture, or lie together. */
const mostAdded = 5;
/** After so many places without any focus, nor anywhere near, there is no light or no chip. */
const hopeless = 3;
/** Focus has jumped when a point is found again this share of the depth of field away. */
const leastJump = 0.25;
/** Standard errors that a height is kept within half the depth of field by (common practice, no source). */
const sigmas = 2;

/**
 * Measures the focus of one chip at its planned points, each predicted from those before, and lays a surface through them. A place without
 * texture is focused by the field stop's image where there is one, else replaced (see `otherPlaces`); a point that stays flat is left out; a bad point, and points among which one is bad though none can tell which, are
 * measured again. Last comes one of the first points once more; when focus has jumped meanwhile, all are measured again. Throws `noReachableZ` or `focusNotFound`.
 */
export async function mapFocus(night: MappingContext, chip: PlannedChip, listener: MappingListener, signal: AbortSignal): Promise<MappedFocus> {
  const context = overChip(night, chip);
  requireReach(context, chip);
  let mapping = await measureAll(context, chip, listener, signal);
  let repeated = await repeatOne(mapping, signal);
  const jumpUm = jumpOf(context, repeated);
  if (jumpUm !== undefined) {
    mapping = await measureAll(context, chip, listener, signal);
    repeated = await repeatOne(mapping, signal);
  }
  const blank = chip.focusPointsUm.length - mapping.measured.length;
  const surface = await settle(mapping, signal);
  await setWindow(context);
  const { measured, watch, again, added } = mapping;
  return { measured, surface, watch, blank, again, added, ...(repeated ? { repeated } : {}), ...(jumpUm === undefined ? {} : { jumpUm }) };
}

async function measureAll(context: MappingContext, chip: PlannedChip, listener: MappingListener, signal: AbortSignal): Promise<Mapping> {
  const mapping: Mapping = { context, chip, listener, seen: new SeenPlaces(), measured: [], dust: [], watch: NOTHING_WATCHED, again: 0, added: 0 };
  for (const [index, at] of chip.focusPointsUm.entries()) {
    if (index >= hopeless && mapping.measured.length === 0) break;
    listener.point(index, chip.focusPointsUm.length);
    await addPoint(mapping, at, signal, chip.focusPointsUm[index + 1]);
  }
  return mapping;
}

/**
 * Focus at one place of a chip or near it, as the run's first point of a chip is measured. Resolves with the point, the drive at its
 * height and the camera at its whole field; undefined where there is nothing to focus on.
 */
export async function focusOnce(night: MappingContext, chip: PlannedChip, at: StagePoint, signal: AbortSignal): Promise<MeasuredPoint | undefined> {
  const context = overChip(night, chip);
  requireReach(context, chip);
  const mapping: Mapping = { context, chip, listener: { point: () => undefined, frame: () => undefined }, seen: new SeenPlaces(), measured: [], dust: [], watch: NOTHING_WATCHED, again: 0, added: 0 };
  const found = await measureNear(mapping, at, signal);
  if (found) await reachZ(context.instrument, found.point.zUm, context.config.focus.takeUpUm, signal);
  await setWindow(context);
  return found;
}

/** One of the first points once more, where the round through them ends: what focus has done while the others were measured. */
async function repeatOne({ context, measured }: Mapping, signal: AbortSignal): Promise<MappedFocus['repeated']> {
  const before = measured[repeatedPoint(measured.length)];
  if (!before) return undefined;
  const { rangeUm } = context.sheet.focus;
  const narrow = { centreUm: before.point.zUm, rangeUm: Math.min(rangeUm, LEAST_REACH * depthOfFieldOf(context)) };
  const after = (await measurePoint(context, before.place, narrow, rangeUm, signal)) ?? (await measurePoint(context, before.place, { ...narrow, rangeUm }, rangeUm, signal));
  return after && { before, after };
}

/** By how much focus jumped between a point and its repetition; undefined when it did not. */
function jumpOf(context: MappingContext, repeated: MappedFocus['repeated']): number | undefined {
  if (!repeated) return undefined;
  const jumpUm = repeated.after.point.zUm - repeated.before.point.zUm;
  return Math.abs(jumpUm) > leastJump * depthOfFieldOf(context) ? jumpUm : undefined;
}

/** A chip's mapping under way. */
interface Mapping {
  readonly context: MappingContext;
  readonly chip: PlannedChip;
  readonly listener: MappingListener;
  readonly seen: SeenPlaces;
  measured: MeasuredPoint[];
  /** Places of the frame at which something shows that has no focus. */
  readonly dust: FramePlace[];
  watch: SharpnessWatch;
  /** Where the stage has gone already for the next point. */
  ahead?: { readonly standUm: StagePoint; readonly atUm: StagePoint } | undefined;
  again: number;
  added: number;
}

/**
 * Measures at a place or near it, and takes a whole frame there; sets out for the next place, where there is one, while that is read out.
 * False where there is nothing to focus on.
 */
async function addPoint(mapping: Mapping, at: StagePoint, signal: AbortSignal, nextUm?: StagePoint): Promise<boolean> {
  const { context, listener, seen, measured } = mapping;
  const found = await measureNear(mapping, at, signal);
  if (!found) return false;
  measured.push(found);
  // After the field stop's image the drive stands beside focus.
  await reachZ(context.instrument, found.point.zUm, context.config.focus.takeUpUm, signal);
  await setWindow(context);
  const { frame, then } = await snapThen(context.instrument.camera, async () => nextUm && travelXy(context.instrument, nextUm, context.travel, signal), signal);
  mapping.ahead = nextUm && then && { standUm: nextUm, atUm: then };
  listener.frame(frame, found.standsAtUm);
  const pose = poseOf(context, found.standsAtUm);
  seen.add(frame, pose);
  mapping.watch = watchSharpness(mapping.watch, samplesOf(frame), pose, true).watch;
  return true;
}

/** The surface, after points were added where the planned ones leave it open, and suspects measured again. */
async function settle(mapping: Mapping, signal: AbortSignal): Promise<FocusSurface> {
  const { context } = mapping;
  const tried: StagePoint[] = [];
  for (let tries = 0; tries < mostAdded && mapping.measured.length > 0; tries++) {
    const place = placeToAdd(mapping, tried);
    if (!place) break;
    tried.push(place);
    if (await addPoint(mapping, place, signal)) mapping.added++;
  }
  const surface = fitted(mapping);
  const doubtful = [...surface.badPoints, ...surface.suspectPoints].slice(0, mostRemeasured);
  if (doubtful.length === 0) return surface;
  mapping.again = doubtful.length;
  mapping.measured = [...(await measureAgain(context, mapping.measured, doubtful, surface, signal))];
  return fitted(mapping);
}

/**
 * The tile at whose centre the surface is known least, as long as it may be out of focus by that alone, and away from where nothing was
 * found before; undefined when all are known well enough.
 */
function placeToAdd(mapping: Mapping, tried: readonly StagePoint[]): StagePoint | undefined {
  const { context, chip, measured } = mapping;
  const apartUm = 2 * Math.hypot(context.plan.fieldWidthUm, context.plan.fieldHeightUm);
  const centres = chip.tiles.map(({ centreUm }) => centreUm).filter((at) => tried.every((other) => distanceUm(other, at) > apartUm));
  const points = measured.map(({ point }) => point);
  const result = fitFocusSurface(points, { depthOfFieldUm: depthOfFieldOf(context) });
  const allowedUm = result.ok ? depthOfFieldOf(context) / 2 : 0;
  const open = (at: StagePoint): number => (result.ok ? sigmas * errorAtUm(result.surface, at) : awayFrom(points.map(({ atUm }) => atUm), at));
  const worst = centres.reduce<StagePoint | undefined>((most, at) => (most && open(most) >= open(at) ? most : at), undefined);
  return worst && open(worst) > allowedUm ? worst : undefined;
}

/** How far a place lies from the line through the two points that are farthest apart; from the only point, where there is one. */
function awayFrom(points: readonly StagePoint[], at: StagePoint): number {
  const [first] = points;
  if (!first) return 1;
  const other = points.reduce((far, point) => (distanceUm(point, first) > distanceUm(far, first) ? point : far), first);
  const lengthUm = distanceUm(first, other);
  if (lengthUm === 0) return distanceUm(first, at);
  return Math.abs((other.xUm - first.xUm) * (at.yUm - first.yUm) - (other.yUm - first.yUm) * (at.xUm - first.xUm)) / lengthUm;
}

/** The same night for ways over one chip. */
export function overChip(context: MappingContext, chip: PlannedChip): MappingContext {
  return { ...context, travel: { ...context.travel, overUm: chip.outlineUm } };
}

/** Throws when no height of the whole range lies within the limits. */
function requireReach({ config, path, sheet }: MappingContext, chip: PlannedChip): void {
  const { zMinUm, zMaxUm } = config.limits;
  const expectedUm = config.focus.expectedUm + path.parfocalUm;
  const { rangeUm } = sheet.focus;
  if (expectedUm - rangeUm < zMaxUm && expectedUm + rangeUm > zMinUm) return;
  throw new NightjarError('noReachableZ', { chip: chip.name, expectedUm, rangeUm, zMinUm, zMaxUm });
}

function expectation(context: MappingContext, measured: readonly MeasuredPoint[], at: StagePoint): FocusExpectation {
  const { config, path, sheet } = context;
  const policy = { rangeUm: sheet.focus.rangeUm, depthOfFieldUm: depthOfFieldOf(context) };
  return expectFocus(measured.map(({ point }) => point), at, config.focus.expectedUm + path.parfocalUm, policy);
}

function fitted({ context, chip, measured }: Mapping): FocusSurface {
  const result = fitFocusSurface(measured.map(({ point }) => point), { depthOfFieldUm: depthOfFieldOf(context) });
  if (result.ok) return result.surface;
  const areOnOneLine = result.refusal.code === 'focusPointsOnOneLine';
  const points = { found: measured.length, of: chip.focusPointsUm.length, least: LEAST_FOCUS_POINTS, areOnOneLine };
  throw new NightjarError('focusNotFound', { chip: chip.name, triedUm: context.sheet.focus.rangeUm, points });
}

/** Measures the doubtful points once more, over the whole range; one that is then flat is left out. */
async function measureAgain(context: MappingContext, measured: readonly MeasuredPoint[], doubtful: readonly number[], surface: FocusSurface, signal: AbortSignal): Promise<readonly MeasuredPoint[]> {
  const kept: MeasuredPoint[] = [];
  for (const [index, one] of measured.entries()) {
    if (!doubtful.includes(index)) {
      kept.push(one);
      continue;
    }
    const { rangeUm } = context.sheet.focus;
    const again = await measurePoint(context, one.place, { centreUm: zAtUm(surface, one.point.atUm), rangeUm }, rangeUm, signal);
    if (again) kept.push(again);
  }
  await setWindow(context);
  return kept;
}

/**
 * The planned place, or what it is replaced by: whatever the field shows there is focused on; of bare oxide, the image of the field stop;
 * else the first of other places that shows something. Last, the middle of the planned field, since what is too faint to be seen may still
 * be focused on.
 */
async function measureNear(mapping: Mapping, at: StagePoint, signal: AbortSignal): Promise<MeasuredPoint | undefined> {
  const { context, chip, measured, seen } = mapping;
  const expected = expectation(context, measured, at);
  const { rangeUm } = context.sheet.focus;
  const planned = await lookAndMeasure(mapping, { standUm: at }, expected, signal);
  if (planned) return planned;
  const byStop = context.instrument.fieldStop && (await measurePoint(context, { standUm: at, byStop: true }, expected, rangeUm, signal));
  if (byStop) return byStop;
  for (const place of otherPlaces(context, chip, at, seen, measured.map(({ point }) => point.atUm))) {
    const other = await lookAndMeasure(mapping, place, expected, signal);
    if (other) return other;
  }
  return measurePoint(context, { standUm: at }, expected, rangeUm, signal);
}

/** Looks at the whole field, and focuses on what shows most; undefined where nothing shows, or where that turns out to be flat. */
async function lookAndMeasure(mapping: Mapping, place: FocusPlace, expected: FocusExpectation, signal: AbortSignal): Promise<MeasuredPoint | undefined> {
  const { context, dust, ahead } = mapping;
  mapping.ahead = undefined;
  const { rangeUm } = context.sheet.focus;
  const { frame, atUm } = await lookAt(context, place.standUm, expected.centreUm, signal, ahead?.standUm === place.standUm ? ahead.atUm : undefined);
  // On a small chip many frames show the same: what was measured already tells nothing new, and points in one place make no surface.
  const look = edgesOf(frame, [...dust, ...measuredIn(mapping, poseOf(context, atUm))]) ?? edgesOf(frame, dust);
  if (!look) return undefined;
  const there = { ...place, look, standsAtUm: atUm };
  const found = await measurePoint(context, there, expected, rangeUm, signal);
  if (found) return found;
  // Something is there: if it was not found where focus is expected, the expectation may be wrong.
  const further = expected.rangeUm < rangeUm ? await measurePoint(context, there, { ...expected, rangeUm }, rangeUm, signal) : undefined;
  // What is as sharp at any height lies on the sensor, and shows at the same place of every frame.
  if (!further) dust.push(look);
  return further;
}

/** Where in a frame points lie that are measured already. */
function measuredIn({ measured }: Mapping, pose: FramePose): readonly FramePlace[] {
  return measured.map(({ point }) => {
    const { colPx, rowPx } = stageToPixel(pose, point.atUm);
    return { right: colPx / pose.widthPx, down: rowPx / pose.heightPx };
  });
}
