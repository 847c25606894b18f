import { fitPolynomial } from './surfaceModels.ts';
import type { Spot } from './surfaceModels.ts';

/** A point is bad when it lies this many standard errors from what the others predict (common practice, no source). */
const BAD_BEYOND = 5;
/** A removal that leaves up to this many times the scatter of the best one is as good as it (common practice, no source). */
const AS_GOOD = 3;
/** With eight points a quadratic without one of them still has one to spare. */
const LEAST_FOR_QUADRATIC = 8;
/** With fewer than five, a plane without one of them has none to spare, and any point could be the bad one. */
const LEAST_FOR_PLANE = 5;

/** Distances from the others' surface that make no point bad, in um. */
export interface OutlierTolerance {
  /** What a bowed chip may depart from a plane. */
  readonly bowUm: number;
  /** What does no harm to focus. */
  readonly harmlessUm: number;
}

/** What is left when one point is taken out. */
interface Without {
  readonly index: number;
  /** How far the point lies from the surface through the others. */
  readonly awayUm: number;
  /** Standard error expected of that distance. */
  readonly errorUm: number;
  /** Scatter of the others about their surface. */
  readonly restUm: number;
}

/** What was found: one bad point, or several of which any may be the bad one; empty when all are sound. */
export interface Outliers {
  readonly bad?: number;
  readonly suspects: readonly number[];
}

/**
 * The one point whose removal leaves the best fit, if it lies too far from the surface through the others to be chance. From eight points
 * on the surface is a quadratic; below, a plane, and what a bowed chip may depart from a plane is allowed for, since five points cannot
 * tell a bow from a bad one. Where the removal of another point would do as well (opposite corners, with the middle on the line between the
 * other two), none is called bad and all of them are suspects.
 */
export function outlierAmong(spots: readonly Spot[], zsUm: readonly number[], errorsUm: readonly number[], tolerance: OutlierTolerance): Outliers {
  if (spots.length < LEAST_FOR_PLANE) return { suspects: [] };
  const kind = spots.length >= LEAST_FOR_QUADRATIC ? 'quadratic' : 'plane';
  const allowedUm = tolerance.harmlessUm + (kind === 'plane' ? tolerance.bowUm : 0);
  const tried = spots.map((_, index) => without(kind, index, spots, zsUm, errorsUm)).filter((one) => one !== undefined);
  const worst = tried.reduce<Without | undefined>((best, one) => (!best || one.restUm < best.restUm ? one : best), undefined);
  if (!worst || !(worst.awayUm > allowedUm + BAD_BEYOND * worst.errorUm)) return { suspects: [] };
  const meanErrorUm = rootMeanSquare(errorsUm);
  const asGood = tried.filter((one) => one.restUm <= AS_GOOD * Math.max(worst.restUm, meanErrorUm)).map((one) => one.index);
  return asGood.length > 1 ? { suspects: asGood } : { bad: worst.index, suspects: [] };
}

function rootMeanSquare(values: readonly number[]): number {
  return Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
}

function without(kind: 'plane' | 'quadratic', index: number, spots: readonly Spot[], zsUm: readonly number[], errorsUm: readonly number[]): Without | undefined {
  const others = <T>(list: readonly T[]) => list.filter((_, i) => i !== index);
  const all = fitPolynomial(kind, spots, zsUm);
  const rest = fitPolynomial(kind, others(spots), others(zsUm));
  const awayUm = Math.abs(all?.leaveOneOutUm[index] ?? NaN);
  const residualUm = all?.residualsUm[index] ?? NaN;
  if (!rest || !Number.isFinite(awayUm)) return undefined;
  const meanErrorUm = rootMeanSquare(errorsUm);
  // awayUm = e/(1 - h), and its spread is the scatter over sqrt(1 - h).
  const share = residualUm === 0 ? 1 : Math.abs(residualUm) / awayUm;
  const restUm = rest.scatterUm;
  return { index, awayUm, restUm, errorUm: Math.max(meanErrorUm, Number.isFinite(restUm) ? restUm : 0) / Math.sqrt(share) };
}
