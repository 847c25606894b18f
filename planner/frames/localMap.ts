import { leastSquares } from '../focus/linear.ts';
import { distanceUm } from '../units/index.ts';
import type { ChipPoint, StagePoint } from '../units/index.ts';
import type { MarkPair } from './chipFrame.ts';

/** Over shorter ways a stage's scale error of 0.3 % is lost in its repeatability, and a rigid frame says more. */
const LEAST_SPREAD_UM = 2500;

/**
 * Where places of a chip lie on a stage that is out of scale or out of square, from places that were found on it: the affine map of least
 * squares through three or more; `undefined` where they lie near each other or on one line, and a rigid frame is all there is.
 */
export function affineMap(found: readonly MarkPair[]): ((place: ChipPoint) => StagePoint) | undefined {
  const [first] = found;
  if (!first || found.length < 3) return undefined;
  if (Math.max(...found.map(({ chipUm }) => distanceUm(chipUm, first.chipUm))) < LEAST_SPREAD_UM) return undefined;
  // In mm from the first place, so that the numbers stay tame.
  const row = ({ xUm, yUm }: ChipPoint): readonly number[] => [1, (xUm - first.chipUm.xUm) / 1000, (yUm - first.chipUm.yUm) / 1000];
  const design = found.map(({ chipUm }) => row(chipUm));
  const x = leastSquares(design, found.map(({ stageUm }) => stageUm.xUm));
  const y = leastSquares(design, found.map(({ stageUm }) => stageUm.yUm));
  if (!x || !y || !isRigidEnough(x.coefficients, y.coefficients)) return undefined;
  const at = (coefficients: readonly number[], place: ChipPoint): number => row(place).reduce((sum, term, i) => sum + term * (coefficients[i] ?? 0), 0);
  return (place) => ({ xUm: at(x.coefficients, place), yUm: at(y.coefficients, place) });
}

/** A stage is out of scale by some tenths of a percent; what stretches more was fitted to noise. */
function isRigidEnough([, xx = 0, xy = 0]: readonly number[], [, yx = 0, yy = 0]: readonly number[]): boolean {
  const stretches = [Math.hypot(xx, yx), Math.hypot(xy, yy)].map((length) => Math.abs(length / 1000 - 1));
  return Math.max(...stretches) < 0.01 && Math.abs(xx * xy + yx * yy) / 1e6 < 0.01;
}
