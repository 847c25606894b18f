import type { BandPass } from './filters.ts';
import { filterTransmittance } from './filters.ts';
import { interpolateEven } from './indexTable.ts';

/** The spectrum of the light, plain data so that it can be stored and sent. Only its shape counts, not its scale. */
export type Lamp =
  | { readonly kind: 'equalEnergy' }
  /** A halogen lamp as a black body. */
  | { readonly kind: 'planck'; readonly temperatureK: number }
  /**
   * A white LED: a narrow blue pump and a broad phosphor. `pumpShare` is the pump's peak over the phosphor's: near 1 is cold white,
   * 0.4 warm white.
   */
  | { readonly kind: 'whiteLed'; readonly pumpNm: number; readonly pumpShare: number }
  | { readonly kind: 'tabulated'; readonly startNm: number; readonly stepNm: number; readonly power: readonly number[] }
  /** Any lamp behind a band-pass filter. For bands narrower than about 20 nm use spectral steps of 1 nm. */
  | { readonly kind: 'filtered'; readonly lamp: Lamp; readonly filter: BandPass };

/** A halogen lamp at its usual idealisation, 3200 K (common practice, no source). */
export const halogen: Lamp = { kind: 'planck', temperatureK: 3200 };
/** A neutral white LED of our own model. */
export const whiteLed: Lamp = { kind: 'whiteLed', pumpNm: 452, pumpShare: 0.9 };
export const equalEnergy: Lamp = { kind: 'equalEnergy' };

/** Planck's second radiation constant in nm K, with the digits used for illuminant A in the CIE's tables. */
const secondRadiationConstantNmK = 1.4388e7;

/** Planck's law for spectral power per wavelength, 1 at 560 nm. */
function planck(wavelengthNm: number, temperatureK: number): number {
  const growth = (nm: number) => Math.expm1(secondRadiationConstantNmK / (nm * temperatureK));
  return ((560 / wavelengthNm) ** 5 * growth(560)) / growth(wavelengthNm);
}

const gauss = (x: number, centre: number, sigma: number) => Math.exp(-(((x - centre) / sigma) ** 2) / 2);

/**
 * A model of ours, fitted to no particular lamp: a pump of 10 nm sigma and a phosphor peaking at 560 nm that rises faster on its blue
 * side (45 nm) than it falls on its red side (70 nm), as blue-pumped yellow phosphors do (common practice, no source).
 */
function ledPower(wavelengthNm: number, pumpNm: number, pumpShare: number): number {
  return pumpShare * gauss(wavelengthNm, pumpNm, 10) + gauss(wavelengthNm, 560, wavelengthNm < 560 ? 45 : 70);
}

/** Relative spectral power of a lamp at one wavelength. */
export function lampPower(lamp: Lamp, wavelengthNm: number): number {
  switch (lamp.kind) {
    case 'equalEnergy':
      return 1;
    case 'planck':
      return planck(wavelengthNm, lamp.temperatureK);
    case 'whiteLed':
      return ledPower(wavelengthNm, lamp.pumpNm, lamp.pumpShare);
    case 'tabulated':
      return interpolateEven(lamp.power, lamp.startNm, lamp.stepNm, wavelengthNm);
    case 'filtered':
      return lampPower(lamp.lamp, wavelengthNm) * filterTransmittance(lamp.filter, wavelengthNm);
  }
}
