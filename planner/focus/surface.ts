import type { StagePoint } from '../units/index.ts';
import { fitPolynomial, fitThinPlate, modelZUm, spreadAt } from './surfaceModels.ts';
import type { Spot, SurfaceKind, SurfaceModel } from './surfaceModels.ts';
import { outlierAmong } from './surfaceOutliers.ts';
import type { OutlierTolerance } from './surfaceOutliers.ts';

/** Focus as measured at one place. */
export interface FocusPoint {
  readonly atUm: StagePoint;
  readonly zUm: number;
  /** One standard error of zUm. */
  readonly errorUm: number;
}

export interface SurfaceOptions {
  /** Largest bow that a chip may really have; a misfit of a plane up to this is no reason to call a point bad. 10 um when left out. */
  readonly bowUm?: number;
  /** A point that is off by less than half of this is never called bad: it does no harm. */
  readonly depthOfFieldUm?: number;
}

/** Where focus lies over a chip; plain data, for {@link zAtUm} and {@link errorAtUm}. */
export interface FocusSurface {
  readonly kind: SurfaceKind;
  readonly centreUm: StagePoint;
  readonly scaleUm: number;
  readonly model: SurfaceModel;
  /** Mean standard error of the points it rests on. */
  readonly pointErrorUm: number;
  /** Root mean square of the leave-one-out errors; NaN when no point is to spare. */
  readonly leaveOneOutUm: number;
  /** Measured less surface, for every point handed in, bad ones included. */
  readonly residualsUm: readonly number[];
  /** Indices of points found bad and left out. */
  readonly badPoints: readonly number[];
  /** Indices of points of which one is bad, though none can tell which: to be measured again. The surface still rests on them. */
  readonly suspectPoints: readonly number[];
}

export type SurfaceRefusal =
  | { readonly code: 'tooFewFocusPoints'; readonly points: number; readonly least: number }
  /** All points lie (nearly) on one line: tilt across it stays unknown. `widthUm` is their spread across the line. */
  | { readonly code: 'focusPointsOnOneLine'; readonly lengthUm: number; readonly widthUm: number };

export type SurfaceResult = { readonly ok: true; readonly surface: FocusSurface } | { readonly ok: false; readonly refusal: SurfaceRefusal };

export const LEAST_FOCUS_POINTS = 3;
/** A quadratic has six unknowns: with seven points one is to spare. */
const LEAST_FOR_CURVED = 7;
/** A surface with more freedom is taken only when it predicts left-out points better by this factor. */
const BETTER_BY = 0.85;
/** Points whose spread across is less than this share of their length do not settle a plane. */
const LEAST_WIDTH_SHARE = 0.03;
const USUAL_BOW_UM = 10;

/**
 * The focus surface through measured points: a plane for three to six; from seven on plane, quadratic or thin-plate spline, whichever
 * predicts left-out points best, the simpler unless the other is clearly better. Bad points (at most one in five) are found, named
 * and left out; with fewer than five points that cannot be done, and with five not always: then the suspects are named.
 */
export function fitFocusSurface(points: readonly FocusPoint[], options: SurfaceOptions = {}): SurfaceResult {
  if (points.length < LEAST_FOCUS_POINTS) return { ok: false, refusal: { code: 'tooFewFocusPoints', points: points.length, least: LEAST_FOCUS_POINTS } };
  const grid = coordinates(points);
  if (!(grid.widthUm >= LEAST_WIDTH_SHARE * grid.lengthUm)) {
    return { ok: false, refusal: { code: 'focusPointsOnOneLine', lengthUm: grid.lengthUm, widthUm: grid.widthUm } };
  }
  const spots = points.map((point) => toSpot(grid, point.atUm));
  const { badPoints, suspectPoints } = findBadPoints(points, spots, { bowUm: options.bowUm ?? USUAL_BOW_UM, harmlessUm: (options.depthOfFieldUm ?? 0) / 2 });
  const kept = points.map((_, i) => i).filter((i) => !badPoints.includes(i));
  const model = chooseModel(kept.map((i) => spots[i] ?? { u: 0, v: 0 }), kept.map((i) => points[i]?.zUm ?? 0));
  if (!model) return { ok: false, refusal: { code: 'focusPointsOnOneLine', lengthUm: grid.lengthUm, widthUm: grid.widthUm } };
  const errors = kept.map((i) => points[i]?.errorUm ?? 0);
  return {
    ok: true,
    surface: {
      kind: model.kind,
      centreUm: grid.centreUm,
      scaleUm: grid.scaleUm,
      model,
      pointErrorUm: rootMeanSquare(errors),
      leaveOneOutUm: rootMeanSquare(model.leaveOneOutUm),
      residualsUm: points.map((point, i) => point.zUm - modelZUm(model, spots[i] ?? { u: 0, v: 0 })),
      badPoints,
      suspectPoints,
    },
  };
}

/** Height of focus at a place, in um of the focus drive. */
export function zAtUm(surface: FocusSurface, point: StagePoint): number {
  return modelZUm(surface.model, toSpot(surface, point));
}

/**
 * One standard error of {@link zAtUm}: what scatter of the measured points does at this place, growing outside them. The scatter is the
 * largest of what the points say of themselves, the fit's residuals and (for polynomials) the leave-one-out errors, which also hold what the
 * chip bends beyond the model. With three points nothing tells how far the chip departs from a plane.
 */
export function errorAtUm(surface: FocusSurface, point: StagePoint): number {
  const { model, pointErrorUm } = surface;
  const spread = spreadAt(model, toSpot(surface, point));
  if (model.kind === 'thinPlate') return Math.hypot(pointErrorUm, model.scatterUm * spread);
  const said = [pointErrorUm, model.scatterUm, surface.leaveOneOutUm].filter((value) => Number.isFinite(value));
  return Math.max(...said) * spread;
}

interface Coordinates {
  readonly centreUm: StagePoint;
  readonly scaleUm: number;
  /** Spread (root mean square) of the points along their main direction and across it. */
  readonly lengthUm: number;
  readonly widthUm: number;
}

function coordinates(points: readonly FocusPoint[]): Coordinates {
  const count = points.length;
  const xUm = points.reduce((sum, p) => sum + p.atUm.xUm, 0) / count;
  const yUm = points.reduce((sum, p) => sum + p.atUm.yUm, 0) / count;
  const moment = (f: (dx: number, dy: number) => number) => points.reduce((sum, p) => sum + f(p.atUm.xUm - xUm, p.atUm.yUm - yUm), 0) / count;
  const xx = moment((dx) => dx * dx);
  const yy = moment((_, dy) => dy * dy);
  const xy = moment((dx, dy) => dx * dy);
  // Principal axes of the second moments.
  const middle = (xx + yy) / 2;
  const apart = Math.hypot((xx - yy) / 2, xy);
  const lengthUm = Math.sqrt(middle + apart);
  return { centreUm: { xUm, yUm }, scaleUm: lengthUm > 0 ? lengthUm : 1, lengthUm, widthUm: Math.sqrt(Math.max(0, middle - apart)) };
}

function toSpot(grid: Pick<Coordinates, 'centreUm' | 'scaleUm'>, point: StagePoint): Spot {
  return { u: (point.xUm - grid.centreUm.xUm) / grid.scaleUm, v: (point.yUm - grid.centreUm.yUm) / grid.scaleUm };
}

function chooseModel(spots: readonly Spot[], zsUm: readonly number[]): SurfaceModel | undefined {
  const plane = fitPolynomial('plane', spots, zsUm);
  if (spots.length < LEAST_FOR_CURVED) return plane;
  const others = [fitPolynomial('quadratic', spots, zsUm), fitThinPlate(spots, zsUm)];
  return others.reduce((best, other) => {
    const isBetter = other && (!best || rootMeanSquare(other.leaveOneOutUm) < BETTER_BY * rootMeanSquare(best.leaveOneOutUm));
    return isBetter ? other : best;
  }, plane);
}

/** Indices of bad points, the worst first, and of those among which one is bad. */
function findBadPoints(points: readonly FocusPoint[], spots: readonly Spot[], tolerance: OutlierTolerance): { badPoints: readonly number[]; suspectPoints: readonly number[] } {
  const badPoints: number[] = [];
  for (let most = Math.floor(points.length / 5); most > 0; most -= 1) {
    const kept = points.map((_, i) => i).filter((i) => !badPoints.includes(i));
    const found = outlierAmong(
      kept.map((i) => spots[i] ?? { u: 0, v: 0 }),
      kept.map((i) => points[i]?.zUm ?? 0),
      kept.map((i) => points[i]?.errorUm ?? 0),
      tolerance,
    );
    const bad = found.bad === undefined ? undefined : kept[found.bad];
    if (bad === undefined) return { badPoints, suspectPoints: found.suspects.map((i) => kept[i] ?? i) };
    badPoints.push(bad);
  }
  return { badPoints, suspectPoints: [] };
}

function rootMeanSquare(values: readonly number[]): number {
  return Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
}
