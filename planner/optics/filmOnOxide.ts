import { spectralGrid } from './bands.ts';
import type { Complex } from './complex.ts';
import { add, complex, divide, subtract } from './complex.ts';
import { coneOf, defaultPupilNodes } from './cone.ts';
import type { IndexTable, RefractiveIndex } from './indexTable.ts';
import { indexAt } from './indexTable.ts';
import type { Polarisation } from './transferMatrix.ts';
import { admittance, axialIndex } from './transferMatrix.ts';
import { siSchinke2015 } from './tables/siSchinke2015.ts';
import { sio2Malitson1965 } from './tables/sio2Malitson1965.ts';

/** How finely a spectrum is computed. */
export interface Fineness {
  /** Step of the spectral sum from 380 to 780 nm; default 5. */
  readonly stepNm?: number;
  /** Directions across the pupil; default 8. */
  readonly pupilNodes?: number;
}

/** What lies under the film; the defaults are fused silica and silicon. */
export interface Wafer {
  readonly oxide?: IndexTable;
  readonly substrate?: IndexTable;
}

/**
 * Everything about film / oxide / substrate that depends neither on a thickness nor on the lamp: made once, used for many oxide
 * thicknesses. `terms` holds 16 numbers for each wavelength and direction: phase per nm in film and oxide (twice through), then for s and p the
 * amplitude reflections air-film, film-oxide, oxide-substrate; each as a complex pair.
 */
export interface PreparedWafer {
  readonly wavelengthsNm: readonly number[];
  readonly weights: readonly number[];
  readonly terms: Float64Array;
}

const termsPerRay = 16;
const air: RefractiveIndex = { n: 1, k: 0 };
const polarisations: readonly Polarisation[] = ['s', 'p'];

/** Fresnel's amplitude reflection at one interface from the admittances on both sides. */
const reflection = (above: Complex, below: Complex): Complex => divide(subtract(above, below), add(above, below));

function writeRay(terms: Float64Array, at: number, media: readonly RefractiveIndex[], sineSquared: number, wavelengthNm: number): void {
  const axials = media.map((medium) => axialIndex(medium, sineSquared));
  const doublePhase = (4 * Math.PI) / wavelengthNm;
  const values: Complex[] = axials.slice(1, 3).map((axial) => complex(axial.re * doublePhase, axial.im * doublePhase));
  for (const polarisation of polarisations) {
    const admittances = media.map((medium, i) => admittance(medium, axials[i] as Complex, polarisation));
    for (let i = 0; i < 3; i++) values.push(reflection(admittances[i] as Complex, admittances[i + 1] as Complex));
  }
  values.forEach((value, i) => {
    terms[at + 2 * i] = value.re;
    terms[at + 2 * i + 1] = value.im;
  });
}

/**
 * Prepares film / oxide / substrate under air for a cone of light.
 * @param numericalAperture of the aperture stop, 0 to below 1
 * @throws RangeError when the aperture is out of range
 */
export function prepareWafer(film: IndexTable, numericalAperture: number, options: Fineness & Wafer = {}): PreparedWafer {
  const wavelengthsNm = spectralGrid(options.stepNm ?? 5);
  const cone = coneOf(numericalAperture, options.pupilNodes ?? defaultPupilNodes);
  const tables = [film, options.oxide ?? sio2Malitson1965, options.substrate ?? siSchinke2015];
  const terms = new Float64Array(wavelengthsNm.length * cone.weights.length * termsPerRay);
  let at = 0;
  for (const nm of wavelengthsNm) {
    const media = [air, ...tables.map((table) => indexAt(table, nm))];
    for (const sineSquared of cone.sineSquared) {
      writeRay(terms, at, media, sineSquared, nm);
      at += termsPerRay;
    }
  }
  return { wavelengthsNm, weights: cone.weights, terms };
}

/**
 * exp(2i film phase) for each thickness, as complex pairs into `out`. For even thicknesses one could multiply up; exact is fast enough.
 */
function writeFilmPhases(out: Float64Array, re: number, im: number, thicknessesNm: readonly number[]): void {
  for (let t = 0; t < thicknessesNm.length; t++) {
    const thicknessNm = thicknessesNm[t] as number;
    const decay = Math.exp(-im * thicknessNm);
    out[2 * t] = decay * Math.cos(re * thicknessNm);
    out[2 * t + 1] = decay * Math.sin(re * thicknessNm);
  }
}

/**
 * Adds one ray's reflectance for every film thickness to `out`. Airy's summation, twice (Born & Wolf 1.6.4, from memory): oxide on
 * substrate seen from the film is g = (r12 + r23 e)/(1 + r12 r23 e), and the film on top r = (r01 + g q)/(1 + r01 g q), where e and q
 * are the round-trip phase factors of oxide and film.
 */
function addRay(out: Float64Array, start: number, stride: number, terms: Float64Array, at: number, ox: readonly [number, number], phases: Float64Array, weight: number): void {
  const r01re = terms[at] as number;
  const r01im = terms[at + 1] as number;
  const r12re = terms[at + 2] as number;
  const r12im = terms[at + 3] as number;
  const r23re = terms[at + 4] as number;
  const r23im = terms[at + 5] as number;
  const sre = r23re * ox[0] - r23im * ox[1];
  const sim = r23re * ox[1] + r23im * ox[0];
  const g = divide(complex(r12re + sre, r12im + sim), complex(1 + r12re * sre - r12im * sim, r12re * sim + r12im * sre));
  for (let t = 0, place = start; 2 * t < phases.length; t++, place += stride) {
    const qre = phases[2 * t] as number;
    const qim = phases[2 * t + 1] as number;
    const gre = g.re * qre - g.im * qim;
    const gim = g.re * qim + g.im * qre;
    const topRe = r01re + gre;
    const topIm = r01im + gim;
    const underRe = 1 + r01re * gre - r01im * gim;
    const underIm = r01re * gim + r01im * gre;
    out[place] = (out[place] as number) + (weight * (topRe * topRe + topIm * topIm)) / (underRe * underRe + underIm * underIm);
  }
}

/**
 * Spectra of reflectance for films of the given thicknesses on one oxide thickness; thickness 0 is the bare wafer, exactly.
 * @returns thicknesses x wavelengths, row by row, on the wavelengths of `wafer`
 */
export function reflectanceSpectra(wafer: PreparedWafer, oxideNm: number, thicknessesNm: readonly number[]): Float64Array {
  const { wavelengthsNm, weights, terms } = wafer;
  const columns = wavelengthsNm.length;
  const out = new Float64Array(thicknessesNm.length * columns);
  const phases = new Float64Array(2 * thicknessesNm.length);
  let at = 0;
  for (let column = 0; column < columns; column++) {
    for (const weight of weights) {
      writeFilmPhases(phases, terms[at] as number, terms[at + 1] as number, thicknessesNm);
      const angle = (terms[at + 2] as number) * oxideNm;
      const decay = Math.exp(-(terms[at + 3] as number) * oxideNm);
      const oxide = [decay * Math.cos(angle), decay * Math.sin(angle)] as const;
      addRay(out, column, columns, terms, at + 4, oxide, phases, weight / 2);
      addRay(out, column, columns, terms, at + 10, oxide, phases, weight / 2);
      at += termsPerRay;
    }
  }
  return out;
}
