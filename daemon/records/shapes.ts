import { z } from 'zod';
import type { Detection, Flake, LayerCall, MeasuredTerrace, RejectReason, Terrace, ThicknessCall } from '../../planner/flakes/types.ts';
import type { PlannedChip, ScanPlan, Tile } from '../../planner/plan/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { flakeShape } from './flakeShape.ts';
import { fromJson } from './json.ts';
import type { CalibrationRecord, ChipRecord, CloseUpPicture, CloseUpTerrace } from './types.ts';

/**
 * Cheap checks of what is read back from JSON columns: enough that a damaged row is found here and not as a strange number much later.
 * Objects are loose, so that what a newer planner adds to a type is kept. Long lists of numbers and points are checked in plain loops.
 */
function isNumbers(value: unknown): value is number[] {
  return Array.isArray(value) && value.every((each) => typeof each === 'number');
}

function isPoint(value: unknown): value is StagePoint {
  return value !== null && typeof value === 'object' && 'xUm' in value && typeof value.xUm === 'number' && 'yUm' in value && typeof value.yUm === 'number';
}

/** Any number at all: ratios may be infinite, which z.number() refuses. */
export const number = z.custom<number>((value) => typeof value === 'number', 'expected a number');
const numbers = z.custom<number[]>(isNumbers, 'expected a list of numbers');
const point = z.custom<StagePoint>(isPoint, 'expected a point');
const points = z.custom<StagePoint[]>((value) => Array.isArray(value) && value.every(isPoint), 'expected a list of points');
const count = z.number().int().min(0);

const rejectReason = z.enum(['softEdge', 'offLayerCurve', 'unevenInside', 'line', 'dark', 'tooSmall', 'chipEdge', 'tooBright', 'sensorDust', 'metal']) satisfies z.ZodType<RejectReason>;

const measuredTerrace = {
  outlineUm: points,
  areaUm2: number,
  contrast: numbers,
  contrastError: numbers,
  edgeWidthRatio: number,
  unevenness: number,
  inscribedUm: number,
  inscribedCentreUm: point,
  saturatedShare: number,
  holesUm: z.array(points).exactOptional(),
  blemishedShare: number.exactOptional(),
  halo: number.exactOptional(),
};

const detection = z.looseObject({
  terraces: z.array(z.looseObject(measuredTerrace) satisfies z.ZodType<MeasuredTerrace>),
  outlineUm: points,
  areaUm2: number,
  touchesFrameEdge: z.boolean(),
  reject: rejectReason.exactOptional(),
}) satisfies z.ZodType<Detection>;

const thickness = z.looseObject({
  nm: number,
  lowNm: number,
  highNm: number.nullable(),
  weight: number,
  alternatives: z.array(z.looseObject({ nm: number, errorNm: number, weight: number })),
}) satisfies z.ZodType<ThicknessCall>;

const call = z.looseObject({
  layers: z.number().int().nullable(),
  probability: number,
  probabilities: numbers,
  stray: number.exactOptional(),
  among: numbers.exactOptional(),
  thickness: thickness.exactOptional(),
  thicknessNm: number.exactOptional(),
  thicknessErrorNm: number.exactOptional(),
  misfit: number,
}) satisfies z.ZodType<LayerCall>;

const terrace = z.looseObject({ ...measuredTerrace, call }) satisfies z.ZodType<Terrace>;

const flake = z.looseObject({
  id: z.string(),
  chip: z.string(),
  bestTile: count,
  tiles: numbers,
  centreUm: point,
  terraces: z.array(terrace),
  verdict: z.enum(['flagged', 'thick', 'rejected']),
  reject: rejectReason.exactOptional(),
  layers: z.number().int().nullable(),
  usableUm: number,
  areaUm2: number,
  rank: number,
  ...flakeShape,
}) satisfies z.ZodType<Flake>;

const tile = z.looseObject({ index: count, chip: z.string(), row: z.number(), column: z.number(), centreUm: point }) satisfies z.ZodType<Tile>;

const plannedChip = z.looseObject({
  name: z.string(),
  outlineUm: points,
  scannedUm: points,
  otherPiecesUm: z.array(points).exactOptional(),
  focusPointsUm: points,
  tiles: z.array(tile),
  areaMm2: number,
}) satisfies z.ZodType<PlannedChip>;

const plan = z.looseObject({
  chips: z.array(plannedChip),
  tileCount: count,
  forecastS: number,
  diskBytes: number,
  fieldWidthUm: number,
  fieldHeightUm: number,
}) satisfies z.ZodType<ScanPlan>;

const focusPoint = z.looseObject({ atUm: point, zUm: number, errorUm: number });
const flat = z.looseObject({ columns: count, rows: count, channels: count, frames: count, values: numbers }) satisfies z.ZodType<NonNullable<ChipRecord['flat']>>;

/** A JSON column: text outside, a checked value inside. */
function json<T extends z.ZodType>(inner: T) {
  return z
    .string()
    .transform((text, context): unknown => {
      try {
        return fromJson(text);
      } catch {
        context.addIssue({ code: 'custom', message: 'not JSON' });
        return z.NEVER;
      }
    })
    .pipe(inner);
}

export const detectionsColumn = json(z.array(detection));
export const flakeColumn = json(flake);
export const planColumn = json(plan);
export const focusPointsColumn = json(z.array(focusPoint));
export const flatColumn = json(flat);
const calibration = z.looseObject({ terraces: count, labels: count, oxideNm: number, oxideErrorNm: number, scale: numbers }) satisfies z.ZodType<CalibrationRecord>;
export const calibrationColumn = json(calibration);
export const numbersColumn = json(numbers);
export const ladderColumn = json(z.array(numbers));
export const matrixColumn = json(z.tuple([z.number(), z.number(), z.number(), z.number()]));

const matrix = z.tuple([z.number(), z.number(), z.number(), z.number()]);
const closeUpPicture = z.looseObject({ file: z.string(), rawFile: z.string(), widthPx: count, heightPx: count, centreUm: point, cameraToStageUm: matrix }) satisfies z.ZodType<CloseUpPicture>;
const closeUpTerrace = z.looseObject({ terrace: count, contrast: numbers, contrastError: numbers, areaUm2: number, call, together: call }) satisfies z.ZodType<CloseUpTerrace>;
export const closeUpPictureColumn = json(closeUpPicture);
export const closeUpTerracesColumn = json(z.array(closeUpTerrace));
