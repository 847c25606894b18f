import { leastSquares } from '../../focus/linear.ts';

/** Focus with one objective at one time. */
export interface HeightReading {
  readonly isOther: boolean;
  readonly atMs: number;
  readonly zUm: number;
}

export interface ParfocalFit {
  /** Focus with the other objective less focus with the first. */
  readonly offsetUm: number;
  readonly errorUm: number;
}

const LEAST_READINGS = 4;

/**
 * The difference of two objectives' focus from readings taken by turns, least squares with a steady drift, so that a stand that warms up
 * does not count as an offset. `undefined` for fewer than four readings, or of one objective alone.
 */
export function fitParfocal(readings: readonly HeightReading[]): ParfocalFit | undefined {
  const [first] = readings;
  const last = readings.at(-1);
  if (!first || !last || readings.length < LEAST_READINGS) return undefined;
  const spanMs = Math.max(1, last.atMs - first.atMs);
  const fit = leastSquares(readings.map(({ isOther, atMs }) => [1, isOther ? 1 : 0, (atMs - first.atMs) / spanMs]), readings.map(({ zUm }) => zUm - first.zUm));
  const offsetUm = fit?.coefficients[1];
  if (!fit || offsetUm === undefined) return undefined;
  const variance = fit.sumOfSquares / (readings.length - 3);
  return { offsetUm, errorUm: Math.sqrt(variance * (fit.inverseNormal[1]?.[1] ?? Infinity)) };
}
