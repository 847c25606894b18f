import { leastSquares, type LeastSquares } from '../../focus/linear.ts';
import { apply2, invert2, type Matrix2, type PixelPoint, type StagePoint } from '../../units/index.ts';
import { median } from '../../units/median.ts';
import type { CalibrationRefusal } from './refusals.ts';

/** One place where a picture was taken. */
export interface MatrixStop {
  /** Where the stage said that it was. */
  readonly stageUm: StagePoint;
  /** Where what was in the middle of the first picture lies in this one, off its middle: the sum of the shifts on the way. */
  readonly shownPx: PixelPoint;
}

export interface CameraMatrixFit {
  /** Pixels off the frame's centre to stage um, in the stage's own um. */
  readonly cameraToStageUm: Matrix2;
  /** Standard error of each entry, in the same unit. */
  readonly errorsUm: Matrix2;
  /** Root mean square of what is left on one axis: how well the stage comes back, for the pictures are matched far better. */
  readonly restUm: number;
  readonly stops: number;
  /** Stops that were left out as mismatched. */
  readonly leftOut: number;
}

export type CameraMatrixResult = { readonly ok: true; readonly fit: CameraMatrixFit } | { readonly ok: false; readonly refusal: CalibrationRefusal };

const LEAST_STOPS = 8;
/** A stop further off than so many standard deviations is a mismatch (common practice, no source), but never one that is off by less than the next. */
const OUTLIER_SIGMAS = 5;
const LEAST_OUTLIER_UM = 0.5;

/**
 * The camera's matrix by least squares: what a picture shows moves against the stage, `stage = start - A shown`. The errors are taken to
 * be the stage's, so each axis of the stage is fitted on the pixels, and mirroring and turning come out by themselves. Mismatched pictures
 * are left out by their distance from the fit, one after another.
 * @param allowedRestUm refuse when stops scatter by more than this
 */
export function fitCameraMatrix(stops: readonly MatrixStop[], allowedRestUm: number): CameraMatrixResult {
  const most = Math.floor(stops.length / 10);
  let kept = stops;
  for (;;) {
    const fit = kept.length >= LEAST_STOPS ? fitOnce(kept) : undefined;
    if (!fit) return { ok: false, refusal: { code: 'tooLittleTexture', matched: kept.length, of: stops.length, least: LEAST_STOPS } };
    const worst = worstOf(fit);
    const usual = Math.max(LEAST_OUTLIER_UM, OUTLIER_SIGMAS * 1.4826 * median(fit.distances) / Math.SQRT2);
    if (fit.distances[worst] !== undefined && fit.distances[worst] > usual && stops.length - kept.length < most) {
      kept = kept.filter((_, i) => i !== worst);
      continue;
    }
    return judged(fit, kept.length, stops.length - kept.length, allowedRestUm);
  }
}

interface Fit {
  readonly x: LeastSquares;
  readonly y: LeastSquares;
  readonly scalePx: number;
  readonly distances: readonly number[];
}

function fitOnce(stops: readonly MatrixStop[]): Fit | undefined {
  const scalePx = Math.max(1, ...stops.map(({ shownPx }) => Math.hypot(shownPx.colPx, shownPx.rowPx)));
  const design = stops.map(({ shownPx }) => [1, shownPx.colPx / scalePx, shownPx.rowPx / scalePx]);
  const [middleX, middleY] = [stops[0]?.stageUm.xUm ?? 0, stops[0]?.stageUm.yUm ?? 0];
  const x = leastSquares(design, stops.map(({ stageUm }) => stageUm.xUm - middleX));
  const y = leastSquares(design, stops.map(({ stageUm }) => stageUm.yUm - middleY));
  return x && y && { x, y, scalePx, distances: x.residuals.map((rest, i) => Math.hypot(rest, y.residuals[i] ?? 0)) };
}

function worstOf({ distances }: Fit): number {
  return distances.reduce((worst, distance, i) => (distance > (distances[worst] ?? 0) ? i : worst), 0);
}

function judged({ x, y, scalePx }: Fit, stops: number, leftOut: number, allowedUm: number): CameraMatrixResult {
  const restUm = Math.sqrt((x.sumOfSquares + y.sumOfSquares) / (2 * (stops - 3)));
  if (!(restUm <= allowedUm)) return { ok: false, refusal: { code: 'badFit', restUm, allowedUm } };
  const of = (axis: LeastSquares, k: number): number => -(axis.coefficients[k] ?? 0) / scalePx;
  const error = (axis: LeastSquares, k: number): number => (restUm * Math.sqrt(axis.inverseNormal[k]?.[k] ?? Infinity)) / scalePx;
  return {
    ok: true,
    fit: {
      cameraToStageUm: [of(x, 1), of(x, 2), of(y, 1), of(y, 2)],
      errorsUm: [error(x, 1), error(x, 2), error(y, 1), error(y, 2)],
      restUm,
      stops,
      leftOut,
    },
  };
}

/** What people want to know of a matrix. */
export interface MatrixParts {
  /** Side of a pixel along its columns' and its rows' direction, in stage um. */
  readonly columnUm: number;
  readonly rowUm: number;
  /** Turn from the stage's +x to the columns' direction, towards +y, when the rows are turned alike: the mean of both. */
  readonly rotationDeg: number;
  readonly mirrored: boolean;
  /** How far columns and rows are from a right angle. */
  readonly skewDeg: number;
}

/** Scale, rotation, mirror and skew of a camera's matrix. */
export function matrixParts(m: Matrix2): MatrixParts {
  const mirrored = m[0] * m[3] - m[1] * m[2] < 0;
  const alongColumns = Math.atan2(m[2], m[0]);
  // Rows run a quarter turn after the columns, or before them where mirrored.
  const alongRows = mirrored ? Math.atan2(m[1], -m[3]) : Math.atan2(-m[1], m[3]);
  const apart = wrapped(alongRows - alongColumns);
  return { columnUm: Math.hypot(m[0], m[2]), rowUm: Math.hypot(m[1], m[3]), rotationDeg: degrees(wrapped(alongColumns + apart / 2)), mirrored, skewDeg: degrees(apart) };
}

/** Standard errors of scale (as a share) and rotation of a fit: those of one column, since the two are found alike. */
export function matrixErrors({ cameraToStageUm: m, errorsUm: e }: CameraMatrixFit): { readonly scale: number; readonly rotationDeg: number } {
  const [columnUm, rowUm] = [Math.hypot(m[0], m[2]), Math.hypot(m[1], m[3])];
  const scale = Math.max(Math.hypot(m[0] * e[0], m[2] * e[2]) / columnUm ** 2, Math.hypot(m[1] * e[1], m[3] * e[3]) / rowUm ** 2);
  const turn = Math.hypot(Math.hypot(m[2] * e[0], m[0] * e[2]) / columnUm ** 2, Math.hypot(m[3] * e[1], m[1] * e[3]) / rowUm ** 2) / 2;
  return { scale, rotationDeg: degrees(turn) };
}

/** The shift of the picture that a move of the stage makes; `undefined` for a singular matrix. */
export function shownAfter(m: Matrix2, from: StagePoint, to: StagePoint): PixelPoint | undefined {
  const inverse = invert2(m);
  if (!inverse) return undefined;
  const [colPx, rowPx] = apply2(inverse, from.xUm - to.xUm, from.yUm - to.yUm);
  return { colPx, rowPx };
}

function wrapped(angle: number): number {
  return Math.atan2(Math.sin(angle), Math.cos(angle));
}

function degrees(radians: number): number {
  return (radians * 180) / Math.PI;
}
