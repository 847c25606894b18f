import { randomStream } from '../random.ts';
import { STEP_NM, FIRST_NM, WAVELENGTHS_NM } from './indexTable.ts';

export type LampKind = 'halogen' | 'whiteLed';

/**
 * How one microscope turns reflectance into red, green and blue: its own lamp, colour bands, pupil and stray light, none of them what
 * a data sheet says, all drawn from the seed.
 */
export interface LightPath {
  /** Share of each wavelength in each channel, adding up to 1: a neutral mirror is neutral. */
  readonly weights: readonly [readonly number[], readonly number[], readonly number[]];
  /** Share of the objective's NA that the illumination fills. */
  readonly pupilFilling: number;
  /** Stray light as a share of what the bare substrate sends. */
  readonly flare: number;
}

/** Planck's law for spectral power; the scale does not matter. c2 = 1.438777e7 nm K (CODATA 2018). */
function planck(wavelengthNm: number, kelvin: number): number {
  return (500 / wavelengthNm) ** 5 / Math.expm1(1.438777e7 / (wavelengthNm * kelvin));
}

/** A bell that falls more slowly on its red side. */
function bell(wavelengthNm: number, centreNm: number, blueNm: number, redNm: number): number {
  const distance = (wavelengthNm - centreNm) / (wavelengthNm < centreNm ? blueNm : redNm);
  return Math.exp(-distance * distance / 2);
}

/** Halogen behind a heat-absorbing glass, or a blue LED with its phosphor (a model of our own). */
function lampSpectrum(kind: LampKind, shift: number): readonly number[] {
  return WAVELENGTHS_NM.map((nm) => {
    if (kind === 'halogen') return planck(nm, 3150 + 60 * shift) / (1 + Math.exp((nm - 690) / 18));
    return 0.85 * bell(nm, 453 + 2 * shift, 9, 12) + bell(nm, 557 + 3 * shift, 42, 66);
  });
}

/** Draws a light path from the seed. */
export function createLightPath(seed: number, lamp: LampKind): LightPath {
  const random = randomStream(seed, 'microscope', 'light path');
  const spectrum = lampSpectrum(lamp, random.between(-1, 1));
  const leak = random.between(0.01, 0.04);
  const band = (centreNm: number, blueNm: number, redNm: number) => {
    const centre = centreNm + random.between(-4, 4);
    const width = random.between(0.92, 1.08);
    const raw = WAVELENGTHS_NM.map((nm, i) => (spectrum[i] ?? 0) * (bell(nm, centre, blueNm * width, redNm * width) + leak * bell(nm, 550, 90, 90)));
    const sum = raw.reduce((total, value) => total + value, 0);
    return raw.map((value) => value / sum);
  };
  return {
    weights: [band(603, 29, 38), band(538, 32, 37), band(459, 30, 34)],
    pupilFilling: random.between(0.8, 0.97),
    flare: random.between(0.004, 0.03),
  };
}

/** Sum over the simulator's wavelengths of a spectrum and a channel's shares. */
export function throughBand(spectrum: readonly number[], weights: readonly number[]): number {
  return spectrum.reduce((sum, value, i) => sum + value * (weights[i] ?? 0), 0);
}

/** Mean wavelength of a channel, for the sharpness of its picture. */
export function meanWavelengthNm(weights: readonly number[]): number {
  return weights.reduce((sum, weight, i) => sum + weight * (FIRST_NM + i * STEP_NM), 0);
}
