import type { CameraFrame, Region } from '../../drivers/interfaces/index.ts';
import { waveDepthOfFieldUm } from '../../planner/focus/depthOfField.ts';
import { fitFocusSurface, type FocusPoint, type FocusSurface } from '../../planner/focus/surface.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import { travelXy } from './approach.ts';
import { autofocus } from './autofocus.ts';
import type { NightContext } from './context.ts';

/** What a chip's focus points gave. */
export interface MappedFocus {
  readonly points: readonly FocusPoint[];
  readonly surface: FocusSurface;
  /** One frame in focus at each good point: the first guess of the flat field. */
  readonly frames: readonly { readonly frame: CameraFrame; readonly atUm: StagePoint }[];
}

/** Side of the square in the middle of the field that a focus search looks at. */
const searchWindowPx = 512;
/** Once a chip's height is known, further points are searched within this share of the run sheet's range. */
const laterRangeShare = 0.5;
/** Where to look next when a place shows no texture: shares of the field, to the sides of the planned point. */
const neighbours: readonly (readonly [number, number])[] = [[0, 0], [0.6, 0], [-0.6, 0], [0, 0.6], [0, -0.6]];

/**
 * Measures the focus of one chip at its planned points and lays a surface through them. A place without texture is replaced by a
 * neighbouring one; a point that stays flat is left out. Throws `focusNotFound` when too few points are left.
 */
export async function mapFocus(context: NightContext, chip: PlannedChip, tell: (done: number, of: number) => void, signal: AbortSignal): Promise<MappedFocus> {
  const points: FocusPoint[] = [];
  const frames: { frame: CameraFrame; atUm: StagePoint }[] = [];
  for (const [index, at] of chip.focusPointsUm.entries()) {
    tell(index, chip.focusPointsUm.length);
    const found = await focusNear(context, chip, at, expectation(context, points), signal);
    if (!found) continue;
    points.push(found.point);
    frames.push({ frame: found.frame, atUm: found.point.atUm });
  }
  const fitted = fitFocusSurface(points, { depthOfFieldUm: waveDepthOfFieldUm(context.path.numericalAperture) });
  if (!fitted.ok) throw new NightjarError('focusNotFound', { chip: chip.name, triedUm: context.sheet.focus.rangeUm });
  return { points, surface: fitted.surface, frames };
}

/** Where focus is expected and how far around it is searched. */
interface Expectation {
  readonly centreUm: number;
  readonly rangeUm: number;
}

function expectation(context: NightContext, points: readonly FocusPoint[]): Expectation {
  const { rangeUm } = context.sheet.focus;
  const last = points.at(-1);
  if (!last) return { centreUm: context.config.focus.expectedUm + context.path.parfocalUm, rangeUm };
  return { centreUm: last.zUm, rangeUm: rangeUm * laterRangeShare };
}

async function focusNear(context: NightContext, chip: PlannedChip, at: StagePoint, expected: Expectation, signal: AbortSignal) {
  const { instrument, plan } = context;
  for (const [right, up] of neighbours) {
    const place = withinChip({ xUm: at.xUm + right * plan.fieldWidthUm, yUm: at.yUm + up * plan.fieldHeightUm }, chip, at);
    const atUm = await travelXy(instrument, place, context.travel, signal);
    await instrument.clock.sleep(context.travel.settleMs, signal);
    await setWindow(context, searchWindow(context));
    const outcome = await autofocus(instrument, searchRequest(context, expected), context.travel.focusSettleMs, signal);
    if (!outcome.ok) continue;
    await setWindow(context);
    const frame = await instrument.camera.snap(signal);
    return { point: { atUm, zUm: outcome.peak.zUm, errorUm: outcome.peak.errorUm }, frame };
  }
  await setWindow(context);
  return undefined;
}

/** A neighbouring place that would leave the chip's box is not used; the planned one is tried again instead. */
function withinChip(place: StagePoint, chip: PlannedChip, planned: StagePoint): StagePoint {
  const xs = chip.scannedUm.map((p) => p.xUm);
  const ys = chip.scannedUm.map((p) => p.yUm);
  const inside = place.xUm >= Math.min(...xs) && place.xUm <= Math.max(...xs) && place.yUm >= Math.min(...ys) && place.yUm <= Math.max(...ys);
  return inside ? place : planned;
}

function searchRequest(context: NightContext, expected: Expectation) {
  const { zMinUm, zMaxUm } = context.config.limits;
  return { ...expected, depthOfFieldUm: waveDepthOfFieldUm(context.path.numericalAperture), zMinUm, zMaxUm };
}

function searchWindow({ config }: NightContext): Region {
  const widthPx = Math.min(searchWindowPx, config.camera.widthPx);
  const heightPx = Math.min(searchWindowPx, config.camera.heightPx);
  return { colPx: (config.camera.widthPx - widthPx) >> 1, rowPx: (config.camera.heightPx - heightPx) >> 1, widthPx, heightPx };
}

async function setWindow({ instrument, path }: NightContext, region?: Region): Promise<void> {
  await instrument.camera.configure({ exposureMs: path.exposureMs, gainDb: path.gainDb, ...(region ? { region } : {}) });
}
