import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { expectFocus, type FocusExpectation } from '../../planner/focus/prediction.ts';
import { fitFocusSurface, zAtUm, type FocusSurface } from '../../planner/focus/surface.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import { travelZ } from './approach.ts';
import type { NightContext } from './context.ts';
import { edgesOf, otherPlaces, SeenPlaces } from './focusPlaces.ts';
import { depthOfFieldOf, measurePoint, setWindow, wholeFrame, type FocusPlace, type MeasuredPoint } from './focusPoint.ts';

/** What a chip's focus points gave. */
export interface MappedFocus {
  readonly measured: readonly MeasuredPoint[];
  readonly surface: FocusSurface;
  readonly seen: SeenPlaces;
  /** Points at which there was nothing to focus on, nor anywhere near. */
  readonly blank: number;
  readonly remeasured: number;
}

/** What a mapping needs to know of the night. */
export type MappingContext = Pick<NightContext, 'instrument' | 'path' | 'config' | 'travel' | 'plan' | 'sheet'>;

export interface MappingListener {
  /** Told before each point. */
  point(done: number, of: number): void;
  /** One frame in focus at each point: the first guess of the flat field. */
  frame(frame: CameraFrame, atUm: StagePoint): void;
}

/** Suspects that are measured again: one bad point among so many cannot be told by fitting. */
const mostRemeasured = 4;

/**
 * Measures the focus of one chip at its planned points, each predicted from those before, and lays a surface through them. A place without
 * texture is replaced (see `otherPlaces`); a point that stays flat is left out; points among which one is bad, though none can tell which,
 * are measured again. Throws `noReachableZ`, `tooFewFocusPoints` or `focusPointsOnOneLine`.
 */
export async function mapFocus(context: MappingContext, chip: PlannedChip, listener: MappingListener, signal: AbortSignal): Promise<MappedFocus> {
  requireReach(context, chip);
  const seen = new SeenPlaces();
  const measured: MeasuredPoint[] = [];
  for (const [index, at] of chip.focusPointsUm.entries()) {
    listener.point(index, chip.focusPointsUm.length);
    const found = await measureNear(context, chip, at, expectation(context, measured, at), seen, signal);
    if (!found) continue;
    measured.push(found);
    const frame = await wholeFrame(context, signal);
    const atUm = await context.instrument.stage.position();
    listener.frame(frame, atUm);
    seen.add(frame, { centreUm: atUm, cameraToStageUm: context.path.cameraToStageUm, widthPx: frame.widthPx, heightPx: frame.heightPx });
  }
  await setWindow(context);
  const blank = chip.focusPointsUm.length - measured.length;
  const first = fitted(context, chip, measured);
  if (first.suspectPoints.length === 0) return { measured, surface: first, seen, blank, remeasured: 0 };
  const again = await measureAgain(context, measured, first, signal);
  return { measured: again, surface: fitted(context, chip, again), seen, blank, remeasured: Math.min(mostRemeasured, first.suspectPoints.length) };
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

function fitted(context: MappingContext, chip: PlannedChip, measured: readonly MeasuredPoint[]): FocusSurface {
  const result = fitFocusSurface(measured.map(({ point }) => point), { depthOfFieldUm: depthOfFieldOf(context) });
  if (result.ok) return result.surface;
  const asked = chip.focusPointsUm.length;
  const details = { chip: chip.name, found: measured.length, asked, triedUm: context.sheet.focus.rangeUm };
  throw result.refusal.code === 'tooFewFocusPoints' ? new NightjarError('tooFewFocusPoints', { ...details, least: result.refusal.least }) : new NightjarError('focusPointsOnOneLine', details);
}

/** Measures the suspects once more, over the whole range; one that is then flat is left out. */
async function measureAgain(context: MappingContext, measured: readonly MeasuredPoint[], surface: FocusSurface, signal: AbortSignal): Promise<readonly MeasuredPoint[]> {
  const suspects = surface.suspectPoints.slice(0, mostRemeasured);
  const kept: MeasuredPoint[] = [];
  for (const [index, one] of measured.entries()) {
    if (!suspects.includes(index)) {
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

/** The planned place; where that is flat, what else the same frame shows, then other places. */
async function measureNear(context: MappingContext, chip: PlannedChip, at: StagePoint, expected: FocusExpectation, seen: SeenPlaces, signal: AbortSignal): Promise<MeasuredPoint | undefined> {
  const { rangeUm } = context.sheet.focus;
  const measure = (place: FocusPlace): Promise<MeasuredPoint | undefined> => measurePoint(context, place, expected, rangeUm, signal);
  const planned = await measure({ standUm: at });
  if (planned) return planned;
  const look = await lookRound(context, expected.centreUm, signal);
  const found = look && (await measure({ standUm: at, look }));
  if (found) return found;
  for (const place of otherPlaces(context, chip, at, seen)) {
    const other = await measure(place);
    if (other) return other;
  }
  return undefined;
}

/** Whether the rest of the field shows something, even if blurred. */
async function lookRound(context: MappingContext, zUm: number, signal: AbortSignal): Promise<{ readonly right: number; readonly down: number } | undefined> {
  const { instrument, config, travel } = context;
  await travelZ(instrument, Math.max(config.limits.zMinUm, zUm - config.focus.takeUpUm), signal);
  await travelZ(instrument, Math.max(config.limits.zMinUm, Math.min(config.limits.zMaxUm, zUm)), signal);
  await instrument.clock.sleep(travel.focusSettleMs, signal);
  return edgesOf(await wholeFrame(context, signal));
}
