import { inset } from '../geometry/inset.ts';
import { areaUm2 } from '../geometry/polygon.ts';
import type { Polygon } from '../geometry/polygon.ts';
import type { StagePoint } from '../units/index.ts';
import { auditPlan } from './audit.ts';
import { spreadFocusPoints } from './focusPoints.ts';
import { forecast, travelTiming } from './forecast.ts';
import { fieldOfView } from './objective.ts';
import { outlinePolygon } from './outline.ts';
import { outlineRefusal, overlappingChips } from './outlineChecks.ts';
import { fastestRoute } from './route.ts';
import { tileStrips } from './tiles.ts';
import type { CameraView } from './tiles.ts';
import type { PlannedChip, PlanRefusal, PlanRequest, PlanResult } from './types.ts';

/** Largest overlap of neighbouring frames: beyond it a frame would share places with the next but one. */
const MAX_OVERLAP = 0.5;
/** Most tiles of one plan: about ten nights; more is a slip in an outline or an objective. */
export const MAX_TILES = 200_000;

/** A chip whose outline is sound. */
interface SoundChip {
  readonly name: string;
  readonly outlineUm: Polygon<'stage'>;
  readonly pieces: readonly Polygon<'stage'>[];
}

/**
 * Makes the scan plan and audits it: outline, margin, tiles, route, focus points, time and disk. Nothing moves. All refusals are
 * collected, so that a run sheet is mended in one go. Chips are scanned in the order given.
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
  refusals.push(...auditPlan(chips, request.limits, request.timing.backlashUm));
  return refusals.length > 0 ? { ok: false, refusals } : { ok: true, plan: finishPlan(chips, request) };
}

function finishPlan(chips: readonly PlannedChip[], request: PlanRequest) {
  const field = fieldOfView(request.frameWidthPx, request.frameHeightPx, request.cameraToStageUm);
  const { seconds, bytes } = forecast(chips, request);
  return {
    chips,
    tileCount: chips.reduce((sum, chip) => sum + chip.tiles.length, 0),
    forecastS: seconds,
    diskBytes: bytes,
    fieldWidthUm: field.widthUm,
    fieldHeightUm: field.heightUm,
  };
}

/** Chips with something left to scan; the others go into the refusals. */
function soundChips(request: PlanRequest, refusals: PlanRefusal[]): readonly SoundChip[] {
  return request.chips.flatMap((chip) => {
    const outlineUm = outlinePolygon(chip.outline);
    const wrong = outlineRefusal(chip, outlineUm);
    const pieces = wrong ? [] : inset(outlineUm, chip.edgeMarginUm);
    if (wrong) refusals.push(wrong);
    else if (pieces.length === 0) refusals.push({ code: 'outlineEmpty', chip: chip.name, edgeMarginUm: chip.edgeMarginUm });
    return pieces.length > 0 ? [{ name: chip.name, outlineUm, pieces }] : [];
  });
}

/** Tiles by area alone, less than there will be: enough to refuse a monster before it fills the memory. */
function expectedTiles(chips: readonly SoundChip[], request: PlanRequest): number {
  const field = fieldOfView(request.frameWidthPx, request.frameHeightPx, request.cameraToStageUm);
  const stepUm2 = field.widthUm * field.heightUm * (1 - request.overlap) ** 2;
  return chips.reduce((sum, chip) => sum + Math.ceil(sumOfAreas(chip.pieces) / stepUm2), 0);
}

function sumOfAreas(pieces: readonly Polygon<'stage'>[]): number {
  return pieces.reduce((sum, piece) => sum + areaUm2(piece), 0);
}

function planChips(sound: readonly SoundChip[], request: PlanRequest): readonly PlannedChip[] {
  const planned: PlannedChip[] = [];
  let from: StagePoint | undefined;
  let firstIndex = 0;
  for (const chip of sound) {
    const next = planChip(chip, request, from, firstIndex);
    planned.push(next);
    firstIndex += next.tiles.length;
    from = next.tiles[next.tiles.length - 1]?.centreUm ?? from;
  }
  return planned;
}

function planChip(chip: SoundChip, request: PlanRequest, from: StagePoint | undefined, firstIndex: number): PlannedChip {
  const view: CameraView = { widthPx: request.frameWidthPx, heightPx: request.frameHeightPx, cameraToStageUm: request.cameraToStageUm };
  const field = fieldOfView(view.widthPx, view.heightPx, view.cameraToStageUm);
  const focusPointsUm = spreadFocusPoints(chip.pieces, request.focusPointsPerChip, Math.hypot(field.widthUm, field.heightUm));
  const layouts = (['width', 'height'] as const).map((direction) => tileStrips(chip.pieces, view, request.overlap, direction));
  const route = fastestRoute(layouts, focusPointsUm[focusPointsUm.length - 1] ?? from, travelTiming(request));
  const [scannedUm = [], ...otherPiecesUm] = chip.pieces;
  return {
    name: chip.name,
    outlineUm: chip.outlineUm,
    scannedUm,
    ...(otherPiecesUm.length > 0 ? { otherPiecesUm } : {}),
    focusPointsUm,
    tiles: route.map((place, i) => ({ index: firstIndex + i, chip: chip.name, ...place })),
    areaMm2: sumOfAreas(chip.pieces) / 1e6,
  };
}
