import type { Complex } from './complex.ts';
import { add, complex, divide, multiply, phaseFactor, scale, squaredModulus, squareRoot, subtract } from './complex.ts';
import { coneOf } from './cone.ts';
import type { RefractiveIndex } from './indexTable.ts';

export interface Layer extends RefractiveIndex {
  readonly thicknessNm: number;
}

/** Flat films, topmost first, on a substrate without end, under air (n = 1). Every film is taken as isotropic. */
export interface Stack {
  readonly layers: readonly Layer[];
  readonly substrate: RefractiveIndex;
}

export type Polarisation = 's' | 'p';

/** Shares of power; `transmittance` is what enters the substrate, the rest of 1 is absorbed in the films. */
export interface PowerShares {
  readonly reflectance: number;
  readonly transmittance: number;
}

/** N cos t inside a medium, from Snell's law with sin t in air: sqrt(N^2 - sin^2 t). */
export function axialIndex(index: RefractiveIndex, sineSquared: number): Complex {
  return squareRoot(complex(index.n * index.n - index.k * index.k - sineSquared, 2 * index.n * index.k));
}

/** Tilted admittance in units of free space's: N cos t for s, N / cos t = N^2 / (N cos t) for p. */
export function admittance(index: RefractiveIndex, axial: Complex, polarisation: Polarisation): Complex {
  if (polarisation === 's') return axial;
  return divide(complex(index.n * index.n - index.k * index.k, 2 * index.n * index.k), axial);
}

interface Fields {
  readonly electric: Complex;
  readonly magnetic: Complex;
  /** The growth exp(this) that was divided out, so that thick absorbing films do not overflow. */
  readonly logScale: number;
}

/** Fields on top of a film from the fields below: E' = E cos d - i H sin d / y, H' = H cos d - i y E sin d, for exp(-iwt). */
function throughLayer(below: Fields, layer: Layer, sineSquared: number, wavelengthNm: number, polarisation: Polarisation): Fields {
  const axial = axialIndex(layer, sineSquared);
  const y = admittance(layer, axial, polarisation);
  const phase = scale(axial, (2 * Math.PI * layer.thicknessNm) / wavelengthNm);
  const forward = scale(phaseFactor(phase), Math.exp(-phase.im));
  const backward = complex(Math.cos(phase.re), -Math.sin(phase.re));
  const cosine = scale(add(forward, backward), 0.5);
  const minusISine = scale(subtract(backward, forward), 0.5);
  return {
    electric: add(multiply(cosine, below.electric), multiply(minusISine, divide(below.magnetic, y))),
    magnetic: add(multiply(cosine, below.magnetic), multiply(minusISine, multiply(y, below.electric))),
    logScale: below.logScale + phase.im,
  };
}

/**
 * Reflectance and transmittance of a stack for one direction and polarisation, by the characteristic matrices of its films (Macleod,
 * Thin-Film Optical Filters, ch. 2; Born & Wolf 1.6: from memory).
 * @param sineSquared squared sine of the angle of incidence in air, 0 to below 1
 */
export function stackShares(stack: Stack, wavelengthNm: number, sineSquared: number, polarisation: Polarisation): PowerShares {
  const substrateY = admittance(stack.substrate, axialIndex(stack.substrate, sineSquared), polarisation);
  let fields: Fields = { electric: complex(1), magnetic: substrateY, logScale: 0 };
  for (let index = stack.layers.length - 1; index >= 0; index--) {
    fields = throughLayer(fields, stack.layers[index] as Layer, sineSquared, wavelengthNm, polarisation);
  }
  const airCosine = Math.sqrt(1 - sineSquared);
  const airY = polarisation === 's' ? airCosine : 1 / airCosine;
  const incident = add(scale(fields.electric, airY), fields.magnetic);
  const reflected = subtract(scale(fields.electric, airY), fields.magnetic);
  const over = squaredModulus(incident);
  return {
    reflectance: squaredModulus(reflected) / over,
    transmittance: (4 * airY * substrateY.re * Math.exp(-2 * fields.logScale)) / over,
  };
}

/** Unpolarised shares averaged over the cone of the aperture stop. Same arguments as `stackReflectance`. */
export function coneShares(stack: Stack, wavelengthNm: number, numericalAperture: number, pupilNodes?: number): PowerShares {
  const cone = coneOf(numericalAperture, pupilNodes);
  let reflectance = 0;
  let transmittance = 0;
  cone.sineSquared.forEach((sineSquared, node) => {
    const s = stackShares(stack, wavelengthNm, sineSquared, 's');
    const p = stackShares(stack, wavelengthNm, sineSquared, 'p');
    const weight = (cone.weights[node] as number) / 2;
    reflectance += weight * (s.reflectance + p.reflectance);
    transmittance += weight * (s.transmittance + p.transmittance);
  });
  return { reflectance, transmittance };
}

/**
 * Power reflectance of a stack in unpolarised light, averaged over the evenly filled cone of the aperture stop.
 * @param wavelengthNm vacuum wavelength
 * @param numericalAperture of the aperture stop, 0 to below 1; 0 is normal incidence
 * @throws RangeError when the aperture is out of range
 */
export function stackReflectance(stack: Stack, wavelengthNm: number, numericalAperture: number, pupilNodes?: number): number {
  return coneShares(stack, wavelengthNm, numericalAperture, pupilNodes).reflectance;
}
