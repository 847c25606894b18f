import type { StagePoint } from '../units/index.ts';
import { distanceUm } from '../units/index.ts';
import { fitPolynomial, modelZUm, spreadAt } from './surfaceModels.ts';
import type { Spot, SurfaceModel } from './surfaceModels.ts';

/** Tilt that a chip on a holder may have; one that has more is found by searching again over the full range. The largest that a frame at 10x/0.30 bears, and some more. */
export const LARGEST_TILT_MRAD = 6;
/** Departure from a plane that a chip may have (the bar of the project's own issue). */
export const LARGEST_BOW_UM = 10;
/** Searches reach at least so many depths of field to both sides: the foot of the peak must be seen (on simulated chips at 10x/0.30, of 1.5 every second search stayed in doubt, of 2 one in four, of 2.5 none). */
export const LEAST_REACH = 2.5;
/** Standard error of one focus point, in depths of field, before any is measured (measured on simulated searches: a third of it). */
const POINT_ERROR = 0.1;
/** A quadratic is asked from so many points on: it has six unknowns. */
const LEAST_FOR_QUADRATIC = 6;
/** Beyond this spread the points known do not carry so far, and the simpler model says more. */
const MOST_SPREAD = 4;
/** Standard errors that a search reaches to both sides (common practice, no source). */
const SIGMAS = 4;

/** A place where focus is known. */
export interface KnownFocus {
  readonly atUm: StagePoint;
  readonly zUm: number;
}

export interface FocusPolicy {
  /** Searched above and below the expected height where nothing is known yet. */
  readonly rangeUm: number;
  readonly depthOfFieldUm: number;
}

/** Where focus is expected, and how far above and below it is searched. */
export interface FocusExpectation {
  readonly centreUm: number;
  readonly rangeUm: number;
}

/**
 * Predicts focus at a place of a chip from the points measured before. The range depends on the places alone, not on what was measured
 * there, so that the number of exposures follows from the plan: nothing known, the whole range; one or two points, or all on one line,
 * what {@link LARGEST_TILT_MRAD} makes of the way to the nearest and {@link LARGEST_BOW_UM}; a plane, its spread times the bow; a
 * quadratic, its spread times the error of a point. Never more than the whole range, never less than {@link LEAST_REACH} depths of field.
 * @param startUm expected where nothing is known
 */
export function expectFocus(known: readonly KnownFocus[], at: StagePoint, startUm: number, policy: FocusPolicy): FocusExpectation {
  const { rangeUm, depthOfFieldUm } = policy;
  const nearest = known.reduce<KnownFocus | undefined>((best, one) => (!best || distanceUm(one.atUm, at) < distanceUm(best.atUm, at) ? one : best), undefined);
  if (!nearest) return { centreUm: startUm, rangeUm };
  const bounded = (centreUm: number, wantedUm: number): FocusExpectation => ({ centreUm, rangeUm: Math.min(rangeUm, Math.max(LEAST_REACH * depthOfFieldUm, wantedUm)) });
  const byTilt = bounded(nearest.zUm, (LARGEST_TILT_MRAD / 1000) * distanceUm(nearest.atUm, at) + LARGEST_BOW_UM * nearness(known, nearest, at));
  const byModel = modelled(known, at, depthOfFieldUm);
  if (!byModel) return byTilt;
  const model = bounded(byModel.centreUm, byModel.rangeUm);
  return model.rangeUm < byTilt.rangeUm ? model : byTilt;
}

/** Share of the largest bow that may lie between two places: none at the same one, all of it from half the extent of what is known on. */
function nearness(known: readonly KnownFocus[], nearest: KnownFocus, at: StagePoint): number {
  const extentUm = Math.max(...known.map((one) => distanceUm(one.atUm, at)));
  return extentUm > 0 ? Math.min(1, (2 * distanceUm(nearest.atUm, at)) / extentUm) : 0;
}

function modelled(known: readonly KnownFocus[], at: StagePoint, depthOfFieldUm: number): FocusExpectation | undefined {
  const scaleUm = Math.max(...known.map((one) => distanceUm(one.atUm, at)), 1);
  const spotOf = (point: StagePoint): Spot => ({ u: (point.xUm - at.xUm) / scaleUm, v: (point.yUm - at.yUm) / scaleUm });
  const spots = known.map((one) => spotOf(one.atUm));
  const zs = known.map((one) => one.zUm);
  const here: Spot = { u: 0, v: 0 };
  const reach = (model: SurfaceModel | undefined, scatterUm: number): FocusExpectation | undefined => {
    const spread = model ? spreadAt(model, here) : Infinity;
    return model && spread <= MOST_SPREAD ? { centreUm: modelZUm(model, here), rangeUm: spread * scatterUm } : undefined;
  };
  const quadratic = known.length >= LEAST_FOR_QUADRATIC ? reach(fitPolynomial('quadratic', spots, zs), SIGMAS * POINT_ERROR * depthOfFieldUm) : undefined;
  return quadratic ?? reach(fitPolynomial('plane', spots, zs), LARGEST_BOW_UM);
}
