import { dot, invert, leastSquares, multiply } from './linear.ts';
import type { Matrix } from './linear.ts';

/** A place in the surface's own coordinates: centred on the points and scaled to about one, so that the numbers stay tame. */
export interface Spot {
  readonly u: number;
  readonly v: number;
}

export type SurfaceKind = 'plane' | 'quadratic' | 'thinPlate';

/** A surface fitted to heights at spots; plain data. */
export interface SurfaceModel {
  readonly kind: SurfaceKind;
  /** Polynomial coefficients; for the thin plate the weights of the points first, then those of the plane. */
  readonly coefficients: readonly number[];
  /** Points of the thin plate; empty for polynomials. */
  readonly spots: readonly Spot[];
  /** Inverse of the normal matrix, or of the thin plate's system: what the predicted error is made of. */
  readonly inverse: Matrix;
  /** Scatter in um that the fit speaks of by itself; NaN when no point is to spare. */
  readonly scatterUm: number;
  readonly residualsUm: readonly number[];
  /** For each point, its height less what the others alone predict there; NaN where they cannot. */
  readonly leaveOneOutUm: readonly number[];
}

/** Terms of the polynomials, in the order of their coefficients. */
function terms(kind: 'plane' | 'quadratic', { u, v }: Spot): readonly number[] {
  return kind === 'plane' ? [1, u, v] : [1, u, v, u * u, u * v, v * v];
}

/** Unknowns of a polynomial, and of the plane within the thin plate. */
function unknownsOf(kind: SurfaceKind): number {
  return kind === 'quadratic' ? 6 : 3;
}

/** Least-squares plane or quadratic; `undefined` where the spots do not settle it (too few, or on one line or conic). */
export function fitPolynomial(kind: 'plane' | 'quadratic', spots: readonly Spot[], zsUm: readonly number[]): SurfaceModel | undefined {
  const spare = spots.length - unknownsOf(kind);
  const fit = spare < 0 ? undefined : leastSquares(spots.map((spot) => terms(kind, spot)), zsUm);
  if (!fit) return undefined;
  return {
    kind,
    coefficients: fit.coefficients,
    spots: [],
    inverse: fit.inverseNormal,
    scatterUm: spare > 0 ? Math.sqrt(fit.sumOfSquares / spare) : NaN,
    residualsUm: fit.residuals,
    // e/(1 - h): the leave-one-out residual of any linear least-squares fit (Cook and Weisberg, Residuals and Influence in Regression,
    // 1982; from memory). A leverage of one means that the others leave this place open.
    leaveOneOutUm: fit.residuals.map((e, i) => (1 - (fit.leverages[i] ?? 1) > 1e-9 ? e / (1 - (fit.leverages[i] ?? 1)) : NaN)),
  };
}

/** r^2 log r, the thin plate's kernel (Duchon 1977; Wahba, Spline Models for Observational Data, 1990; from memory). */
function kernel(a: Spot, b: Spot): number {
  const squared = (a.u - b.u) ** 2 + (a.v - b.v) ** 2;
  return squared === 0 ? 0 : (squared * Math.log(squared)) / 2;
}

/** Kernel values at a spot, and the terms of the plane. */
function thinPlateRow(spots: readonly Spot[], spot: Spot): readonly number[] {
  return [...spots.map((other) => kernel(spot, other)), ...terms('plane', spot)];
}

/** Interpolating thin-plate spline with a plane; `undefined` for fewer than four spots, repeated spots or spots on one line. */
export function fitThinPlate(spots: readonly Spot[], zsUm: readonly number[]): SurfaceModel | undefined {
  const count = spots.length;
  if (count < 4) return undefined;
  const upper = spots.map((spot) => thinPlateRow(spots, spot));
  const lower = [0, 1, 2].map((k) => [...spots.map((spot) => terms('plane', spot)[k] ?? 0), 0, 0, 0]);
  const inverse = invert([...upper, ...lower]);
  if (!inverse) return undefined;
  const coefficients = multiply(inverse, [...zsUm, 0, 0, 0]);
  const own = spots.map((_, i) => inverse[i]?.[i] ?? 0);
  const weights = coefficients.slice(0, count);
  // w^2/(M^-1)ii is the square of a leave-one-out residual over what it should be for a scatter of one.
  const unit = weights.reduce((sum, w, i) => sum + ((own[i] ?? 0) > 1e-12 ? (w * w) / (own[i] ?? 1) : 0), 0);
  return {
    kind: 'thinPlate',
    coefficients,
    spots,
    inverse,
    scatterUm: Math.sqrt(unit / count),
    residualsUm: zsUm.map(() => 0),
    // w/(M^-1)ii: Rippa, Advances in Computational Mathematics 11 (1999) 193 (from memory); tested against leaving each point out.
    leaveOneOutUm: weights.map((w, i) => (Math.abs(own[i] ?? 0) > 1e-12 ? w / (own[i] ?? 1) : NaN)),
  };
}

/** Height of the model at a spot, in um. */
export function modelZUm(model: SurfaceModel, spot: Spot): number {
  return dot(rowAt(model, spot), model.coefficients);
}

/**
 * How much the predicted height at a spot spreads for a scatter of one: sqrt(x (X'X)^-1 x) for least squares, the power function
 * sqrt(-k M^-1 k) for the thin plate, whose kernel is zero at no distance.
 */
export function spreadAt(model: SurfaceModel, spot: Spot): number {
  const row = rowAt(model, spot);
  const form = dot(row, multiply(model.inverse, row));
  return Math.sqrt(Math.max(0, model.kind === 'thinPlate' ? -form : form));
}

function rowAt(model: SurfaceModel, spot: Spot): readonly number[] {
  return model.kind === 'thinPlate' ? thinPlateRow(model.spots, spot) : terms(model.kind, spot);
}
