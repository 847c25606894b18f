import type { CameraFrame, Region } from '../../drivers/interfaces/index.ts';
import { waveDepthOfFieldUm } from '../../planner/focus/depthOfField.ts';
import type { FocusExpectation } from '../../planner/focus/prediction.ts';
import type { SearchRequest } from '../../planner/focus/search.ts';
import type { FocusPoint } from '../../planner/focus/surface.ts';
import { pixelToStage, type StagePoint } from '../../planner/units/index.ts';
import { setHeight, travelXy } from './approach.ts';
import { autofocus, type Focused } from './autofocus.ts';
import type { NightContext } from './context.ts';
import type { FramePlace } from './focusMeasure.ts';
import { poseOf } from './pose.ts';

/** Side of the square of the field that a focus search looks at, and of the one about edges that were seen: what is beside them is noise. */
const windowPx = 512;
const closeWindowPx = 256;
/** Diameter of the partly closed field stop, as a share of that side. */
const stopShare = 0.7;

/** Where a focus search looks: where the stage stands, and which part of the field it sees. */
export interface FocusPlace {
  readonly standUm: StagePoint;
  /** Middle of the part looked at; the middle of the field when left out. */
  readonly look?: FramePlace;
  /** Bare oxide: focused by the image of the partly closed field stop. */
  readonly byStop?: boolean;
  /** Where the stage stands already: it does not go there again. */
  readonly standsAtUm?: StagePoint;
}

/** One focus point as it was measured. */
export interface MeasuredPoint {
  /** Its place is that of the texture which was focused on. */
  readonly point: FocusPoint;
  /** To come back to the same texture. */
  readonly place: FocusPlace;
  /** Where the stage stood. */
  readonly standsAtUm: StagePoint;
  readonly atMs: number;
}

type Parts = Pick<NightContext, 'instrument' | 'path' | 'config' | 'travel'>;

/** Full depth of field that focus is held against. */
export function depthOfFieldOf({ path }: Pick<NightContext, 'path'>): number {
  return waveDepthOfFieldUm(path.numericalAperture);
}

/**
 * Goes to a place and looks at the whole field at about the height of focus. Resolves with the frame, and with where the sample stands.
 * @param standsAtUm where it stands there already
 */
export async function lookAt(context: Parts, standUm: StagePoint, zUm: number, signal: AbortSignal, standsAtUm?: StagePoint): Promise<{ readonly frame: CameraFrame; readonly atUm: StagePoint }> {
  const { limits } = context.config;
  const lookUm = Math.max(limits.zMinUm, Math.min(limits.zMaxUm, zUm));
  const atUm = standsAtUm ?? (await travelXy(context.instrument, standUm, context.travel, signal));
  await setHeight(context.instrument, lookUm, context.travel, signal);
  return { frame: await wholeFrame(context, signal), atUm };
}

/**
 * Measures focus at one place. When the peak lies beyond the range, the search is repeated once over the whole range about that end.
 * Undefined where there is nothing to focus on. The camera is left with its window set.
 */
export async function measurePoint(context: Parts, place: FocusPlace, expected: FocusExpectation, wholeRangeUm: number, signal: AbortSignal): Promise<MeasuredPoint | undefined> {
  const { fieldStop } = context.instrument;
  if (!place.byStop || !fieldStop) return measureTexture(context, place, expected, wholeRangeUm, signal);
  const offsetUm = context.config.focus.fieldStop?.offsetUm ?? 0;
  await fieldStop.setOpening(stopOpening(context));
  try {
    const seen = await measureTexture(context, place, { ...expected, centreUm: expected.centreUm + offsetUm }, wholeRangeUm, signal);
    // The stop's image is a ring about the middle of the field: it holds for the middle.
    return seen && { ...seen, point: { ...seen.point, atUm: seen.standsAtUm, zUm: seen.point.zUm - offsetUm } };
  } finally {
    await fieldStop.setOpening(1);
  }
}

/** How far the stop is closed for its edge to run through the part looked at, as a share of half the field's diagonal. */
function stopOpening({ config: { camera } }: Parts): number {
  const sidePx = Math.min(windowPx, camera.widthPx, camera.heightPx);
  return (stopShare * sidePx) / Math.hypot(camera.widthPx, camera.heightPx);
}

async function measureTexture(context: Parts, place: FocusPlace, expected: FocusExpectation, wholeRangeUm: number, signal: AbortSignal): Promise<MeasuredPoint | undefined> {
  const { instrument, travel } = context;
  const atUm = place.standsAtUm ?? (await travelXy(instrument, place.standUm, travel, signal));
  if (!place.standsAtUm) await instrument.clock.sleep(travel.settleMs, signal);
  const window = windowAt(context, place.look);
  await setWindow(context, window);
  const focused = await searchTwice(context, expected, wholeRangeUm, signal);
  if (!focused.ok) return undefined;
  const { right, down } = focused.texture ?? { right: 0.5, down: 0.5 };
  const textureUm = pixelToStage(poseOf(context, atUm), { colPx: window.colPx + right * window.widthPx, rowPx: window.rowPx + down * window.heightPx });
  return { point: { atUm: textureUm, zUm: focused.peak.zUm, errorUm: focused.peak.errorUm }, place: { standUm: place.standUm, ...(place.look ? { look: place.look } : {}), ...(place.byStop ? { byStop: true } : {}) }, standsAtUm: atUm, atMs: instrument.clock.now() };
}

async function searchTwice(context: Parts, expected: FocusExpectation, wholeRangeUm: number, signal: AbortSignal): Promise<Focused> {
  const settleMs = context.travel.focusSettleMs;
  const focused = await autofocus(context.instrument, searchRequest(context, expected), settleMs, signal);
  if (focused.ok || focused.refusal.code !== 'peakAtEnd' || expected.rangeUm >= wholeRangeUm) return focused;
  return autofocus(context.instrument, searchRequest(context, { centreUm: focused.refusal.zUm, rangeUm: wholeRangeUm }), settleMs, signal);
}

/** The whole frame, where the drive stands. */
export async function wholeFrame(context: Parts, signal: AbortSignal): Promise<CameraFrame> {
  await setWindow(context);
  return context.instrument.camera.snap(signal);
}

/** A search about an expected height, within the limits, with the take-up that the instrument file gives. */
export function searchRequest(context: Pick<Parts, 'config' | 'path'>, expected: FocusExpectation): SearchRequest {
  const { limits, focus } = context.config;
  return { ...expected, depthOfFieldUm: depthOfFieldOf(context), takeUpUm: focus.takeUpUm, zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm };
}

/** The part of the field about a place of it, within the sensor, on even pixels. */
function windowAt({ config }: Parts, look?: FramePlace): Region {
  const { camera } = config;
  const { right, down } = look ?? { right: 0.5, down: 0.5 };
  const sidePx = look ? closeWindowPx : windowPx;
  const widthPx = Math.min(sidePx, camera.widthPx);
  const heightPx = Math.min(sidePx, camera.heightPx);
  const start = (share: number, side: number, part: number): number => 2 * Math.round(Math.min(side - part, Math.max(0, share * side - part / 2)) / 2);
  return { colPx: start(right, camera.widthPx & ~1, widthPx), rowPx: start(down, camera.heightPx & ~1, heightPx), widthPx, heightPx };
}

/** Sets the camera to a part of its field, or to all of it. */
export async function setWindow({ instrument, path }: Pick<NightContext, 'instrument' | 'path'>, region?: Region): Promise<void> {
  await instrument.camera.configure({ exposureMs: path.exposureMs, gainDb: path.gainDb, ...(region ? { region } : {}) });
}
