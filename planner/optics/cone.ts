import { gaussLegendre } from './quadrature.ts';

/** Directions of a cone of light: squared sines of the angle in air, with weights that add up to 1. */
export interface Cone {
  readonly sineSquared: readonly number[];
  readonly weights: readonly number[];
}

/**
 * Nodes over the pupil. Measured on 0 to 500 nm of oxide, 380 to 780 nm: the reflectance is off by at most 6e-7 up to NA 0.8 and 7e-6 at NA 0.9.
 * Four nodes do as well up to NA 0.45, and are off by 4e-4 at NA 0.8.
 */
export const defaultPupilNodes = 8;

/**
 * The cone that an evenly filled pupil of this numerical aperture lets through an aplanatic condenser.
 * An even pupil weighs directions by sin t cos t dt = d(sin^2 t)/2, so the average is a plain one over u = sin^2 t from 0 to NA^2.
 * @param numericalAperture of the aperture stop as imaged, in air, 0 (parallel light) up to but not 1
 * @throws RangeError when the aperture is out of range
 */
export function coneOf(numericalAperture: number, pupilNodes: number = defaultPupilNodes): Cone {
  if (!(numericalAperture >= 0 && numericalAperture < 1)) throw new RangeError(`numerical aperture ${numericalAperture} is not in 0 <= NA < 1`);
  if (numericalAperture === 0) return { sineSquared: [0], weights: [1] };
  const { nodes, weights } = gaussLegendre(pupilNodes);
  return { sineSquared: nodes.map((node) => node * numericalAperture * numericalAperture), weights };
}
