import { complex, dividedBy, expI, minus, plus, root, squaredSize, times, type Complex } from './complexNumber.ts';

/** One layer of a stack, from the top. */
export interface Layer {
  readonly index: Complex;
  readonly thicknessNm: number;
}

type Polarisation = 's' | 'p';

/** What stands for a medium in Fresnel's formulae: n cos t for s, cos t / n for p (the sign of r then differs; its size does not). */
function admittance(index: Complex, cosine: Complex, polarisation: Polarisation): Complex {
  return polarisation === 's' ? times(index, cosine) : dividedBy(cosine, index);
}

/**
 * Share of the light that a stack in air reflects, for one wavelength, polarisation and angle: the interfaces are taken up from the
 * substrate one by one, r = (f + r' e)/(1 + f r' e) with e = exp(2 i d), d = 2 pi n cos(t) thickness / wavelength
 * (L. G. Parratt, Phys. Rev. 95, 359 (1954); for one film Airy's sum). n + i k with k >= 0 absorbs.
 */
export function reflectanceAt(layers: readonly Layer[], substrate: Complex, wavelengthNm: number, sine: number, polarisation: Polarisation): number {
  const cosineIn = (index: Complex) => {
    const ratio = dividedBy(complex(sine), index);
    return root(minus(complex(1), times(ratio, ratio)));
  };
  let below = admittance(substrate, cosineIn(substrate), polarisation);
  let reflected: Complex | undefined;
  for (let i = layers.length - 1; i >= -1; i--) {
    const layer = layers[i] ?? { index: complex(1), thicknessNm: 0 };
    const cosine = cosineIn(layer.index);
    const own = admittance(layer.index, cosine, polarisation);
    const fresnel = dividedBy(minus(own, below), plus(own, below));
    const sum = reflected ? dividedBy(plus(fresnel, reflected), plus(complex(1), times(fresnel, reflected))) : fresnel;
    const phase = times(times(layer.index, cosine), complex((4 * Math.PI * layer.thicknessNm) / wavelengthNm));
    reflected = times(sum, expI(phase));
    below = own;
  }
  return squaredSize(reflected ?? complex(0));
}

/**
 * The same, unpolarised and averaged over a cone of light of the given NA whose pupil is evenly filled: rings of equal area in the
 * sine of the angle weigh the same (aplanatic condenser). `rings` midpoints are taken.
 */
export function coneReflectance(layers: readonly Layer[], substrate: Complex, wavelengthNm: number, numericalAperture: number, rings = 4): number {
  let sum = 0;
  for (let ring = 0; ring < rings; ring++) {
    const sine = numericalAperture * Math.sqrt((ring + 0.5) / rings);
    sum += reflectanceAt(layers, substrate, wavelengthNm, sine, 's') + reflectanceAt(layers, substrate, wavelengthNm, sine, 'p');
  }
  return sum / (2 * rings);
}
