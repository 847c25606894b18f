import { inset } from '../geometry/inset.ts';
import { areaUm2 } from '../geometry/polygon.ts';
import type { Polygon } from '../geometry/polygon.ts';
import { knownFlakeWays } from '../knownFlake/seconds.ts';
import type { StagePoint } from '../units/index.ts';
import { auditPlan } from './audit.ts';
import { boundSeconds } from './bound.ts';
import { chipOrder } from './chipOrder.ts';
import { stripCourses } from './courses.ts';
import { roundOfFocusPoints, spreadFocusPoints } from './focusPoints.ts';
import { forecast, travelTiming } from './forecast.ts';
import { chipNotices } from './notices.ts';
import { fieldOfView } from './objective.ts';
import { outlinePolygon } from './outline.ts';
import { outlineRefusal, overlappingChips, skipRefusals } from './outlineChecks.ts';
import { fastestRoute } from './route.ts';
import { scannedAreaUm2 } from './scannedArea.ts';
import { tileStrips } from './tiles.ts';
import type { CameraView } from './tiles.ts';
import type { PlannedChip, PlanRefusal, PlanRequest, PlanResult, ScanPlan } from './types.ts';

/** Largest overlap of neighbouring frames: beyond it a frame would share places with the next but one. */
const MAX_OVERLAP = 0.5;
/** Most tiles of one plan: about ten nights; more is a slip in an outline or an objective. */
export const MAX_TILES = 200_000;

/** A chip whose outline is sound. */
interface SoundChip {
  readonly name: string;
  readonly outlineUm: Polygon<'stage'>;
  readonly pieces: readonly Polygon<'stage'>[];
  readonly skipUm: readonly Polygon<'stage'>[];
}

/**
 * Makes the scan plan and audits it: outline, margin, tiles, route, focus points, time and disk. Nothing moves. All refusals are
 * collected, so that a run sheet is mended in one go. Chips are scanned in the order given, unless `reorderChips` asks for the fastest.
 * Throws RangeError when `cameraToStageUm` is singular or a margin is negative (the configuration's schema keeps both out).
 */
export function planScan(request: PlanRequest): PlanResult {
  const refusals: PlanRefusal[] = [];
  const overlapIsRight = request.overlap >= 0 && request.overlap <= MAX_OVERLAP;
  if (!overlapIsRight) refusals.push({ code: 'overlapRange', overlap: request.overlap, max: MAX_OVERLAP });
  const sound = soundChips(request, refusals);
  refusals.push(...overlappingChips(sound));
  if (!overlapIsRight) return { ok: false, refusals };
  const expected = expectedTiles(sound, request);
  if (expected > MAX_TILES) return { ok: false, refusals: [...refusals, { code: 'tooManyTiles', tiles: expected, max: MAX_TILES }] };
  const chips = planChips(sound, request);
  refusals.push(...chips.filter(({ tiles }) => tiles.length === 0).map(({ name }): PlanRefusal => ({ code: 'allSkipped', chip: name })));
  const { knownFlake } = request;
  const also = knownFlake ? [{ name: knownFlake.name, focusPointsUm: [knownFlake.atUm], tiles: [] }] : [];
  refusals.push(...auditPlan([...chips, ...also], request.limits, request.timing.backlashUm));
  return refusals.length > 0 ? { ok: false, refusals } : { ok: true, plan: finishPlan(chips, request) };
}

function viewOf(request: PlanRequest): CameraView {
  return { widthPx: request.frameWidthPx, heightPx: request.frameHeightPx, cameraToStageUm: request.cameraToStageUm };
}

function fieldOf(request: PlanRequest): { readonly widthUm: number; readonly heightUm: number } {
  return fieldOfView(request.frameWidthPx, request.frameHeightPx, request.cameraToStageUm);
}

function finishPlan(chips: readonly PlannedChip[], request: PlanRequest): ScanPlan {
  const field = fieldOf(request);
  const { seconds, bytes } = forecast(chips, request);
  const { knownFlake } = request;
  const visitsS = knownFlake ? 2 * knownFlake.visitS + knownFlakeWays(knownFlake.atUm, chips, request) : 0;
  return {
    chips,
    tileCount: chips.reduce((sum, chip) => sum + chip.tiles.length, 0),
    forecastS: seconds + visitsS,
    boundS: boundSeconds(chips, Math.min(field.widthUm, field.heightUm), request.timing, request.focus),
    diskBytes: bytes,
    fieldWidthUm: field.widthUm,
    fieldHeightUm: field.heightUm,
    ...(knownFlake ? { knownFlake } : {}),
  };
}

/** Chips with something left to scan; the others go into the refusals. */
function soundChips(request: PlanRequest, refusals: PlanRefusal[]): readonly SoundChip[] {
  return request.chips.flatMap((chip) => {
    const outlineUm = outlinePolygon(chip.outline);
    const wrong = outlineRefusal(chip, outlineUm);
    const pieces = wrong ? [] : inset(outlineUm, chip.edgeMarginUm);
    const badSkips = skipRefusals(chip);
    refusals.push(...badSkips);
    if (wrong) refusals.push(wrong);
    else if (pieces.length === 0) refusals.push({ code: 'outlineEmpty', chip: chip.name, edgeMarginUm: chip.edgeMarginUm });
    const skipUm = badSkips.length > 0 ? [] : (chip.skip ?? []).map(outlinePolygon);
    return pieces.length > 0 ? [{ name: chip.name, outlineUm, pieces, skipUm }] : [];
  });
}

/** Tiles by area alone, less than there will be: enough to refuse a monster before it fills the memory. */
function expectedTiles(chips: readonly SoundChip[], request: PlanRequest): number {
  const field = fieldOf(request);
  const stepUm2 = field.widthUm * field.heightUm * (1 - request.overlap) ** 2;
  const areasUm2 = (pieces: readonly Polygon<'stage'>[]): number => pieces.reduce((sum, piece) => sum + areaUm2(piece), 0);
  return chips.reduce((sum, chip) => sum + Math.ceil(areasUm2(chip.pieces) / stepUm2), 0);
}

function planChips(sound: readonly SoundChip[], request: PlanRequest): readonly PlannedChip[] {
  const planned: PlannedChip[] = [];
  let from = request.fromUm;
  let firstIndex = 0;
  for (const place of request.reorderChips ? chipOrder(sound.map(({ outlineUm }) => outlineUm), request.fromUm, travelTiming(request)) : sound.keys()) {
    const chip = sound[place];
    if (!chip) continue;
    const next = planChip(chip, request, from, firstIndex);
    planned.push(next);
    firstIndex += next.tiles.length;
    from = next.tiles[next.tiles.length - 1]?.centreUm ?? from;
  }
  return planned;
}

function planChip(chip: SoundChip, request: PlanRequest, from: StagePoint | undefined, firstIndex: number): PlannedChip {
  const view = viewOf(request);
  const field = fieldOf(request);
  const { pieces, skipUm } = chip;
  const spreadUm = spreadFocusPoints(pieces, skipUm, request.focusPointsPerChip, Math.hypot(field.widthUm, field.heightUm));
  const layouts = stripCourses(chip.outlineUm, view, request.overlap).map((course) => tileStrips(pieces, skipUm, view, request.overlap, course));
  // Wherever the scan begins, focus is measured last near there; without focus points the stage comes from the chip before.
  const route = fastestRoute(layouts, spreadUm[0] ?? from, travelTiming(request));
  const focusPointsUm = route[0] ? roundOfFocusPoints(spreadUm, route[0].centreUm) : spreadUm;
  const [scannedUm = [], ...otherPiecesUm] = pieces;
  const notices = chipNotices(chip.outlineUm, pieces, field);
  return {
    name: chip.name,
    outlineUm: chip.outlineUm,
    scannedUm,
    ...(otherPiecesUm.length > 0 ? { otherPiecesUm } : {}),
    ...(skipUm.length > 0 ? { skipUm } : {}),
    focusPointsUm,
    tiles: route.map((place, i) => ({ index: firstIndex + i, chip: chip.name, ...place })),
    areaMm2: scannedAreaUm2(pieces, skipUm) / 1e6,
    ...(notices.length > 0 ? { notices } : {}),
  };
}
