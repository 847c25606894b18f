import { spectralGrid } from './bands.ts';
import type { Complex } from './complex.ts';
import { add, complex, divide, multiply, phaseFactor, scale, subtract } from './complex.ts';
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
  const values: Complex[] = axials.slice(1, 3).map((axial) => scale(axial, doublePhase));
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

/** The film's round-trip phase factor exp(i phase) for each thickness, as complex pairs into `out`. */
function writeFilmTrips(out: Float64Array, phasePerNm: Complex, thicknessesNm: readonly number[]): void {
  for (let t = 0; t < thicknessesNm.length; t++) {
    const thicknessNm = thicknessesNm[t] as number;
    const decay = Math.exp(-phasePerNm.im * thicknessNm);
    out[2 * t] = decay * Math.cos(phasePerNm.re * thicknessNm);
    out[2 * t + 1] = decay * Math.sin(phasePerNm.re * thicknessNm);
  }
}

/**
 * Amplitude reflection of oxide on substrate as seen from the film, by Airy's summation (Born & Wolf 1.6.4, from memory):
 * (r12 + r23 e)/(1 + r12 r23 e), where e is the oxide's round-trip phase factor.
 */
function underFilm(r12: Complex, r23: Complex, oxideTrip: Complex): Complex {
  const returned = multiply(r23, oxideTrip);
  return divide(add(r12, returned), add(complex(1), multiply(r12, returned)));
}

/** One wavelength's column of a table with a row for each film thickness. */
interface Column {
  readonly out: Float64Array;
  readonly index: number;
  readonly columns: number;
}

/**
 * Adds one ray's reflectance to every row of a column, by Airy's summation once more: r = (r01 + g q)/(1 + r01 g q) with the film's round-trip
 * phase factor q. The inner loop of every ladder: plain numbers, one division.
 */
function addRay(column: Column, r01: Complex, g: Complex, filmTrips: Float64Array, weight: number): void {
  const { out, columns } = column;
  for (let t = 0, place = column.index; 2 * t < filmTrips.length; t++, place += columns) {
    const qRe = filmTrips[2 * t] as number;
    const qIm = filmTrips[2 * t + 1] as number;
    const backRe = g.re * qRe - g.im * qIm;
    const backIm = g.re * qIm + g.im * qRe;
    const topRe = r01.re + backRe;
    const topIm = r01.im + backIm;
    const underRe = 1 + r01.re * backRe - r01.im * backIm;
    const underIm = r01.re * backIm + r01.im * backRe;
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
  const filmTrips = new Float64Array(2 * thicknessesNm.length);
  const term = (at: number): Complex => complex(terms[at] as number, terms[at + 1]);
  let at = 0;
  for (let index = 0; index < columns; index++) {
    const column = { out, index, columns };
    for (const weight of weights) {
      writeFilmTrips(filmTrips, term(at), thicknessesNm);
      const oxideTrip = phaseFactor(scale(term(at + 2), oxideNm));
      for (const r of [at + 4, at + 10]) addRay(column, term(r), underFilm(term(r + 2), term(r + 4), oxideTrip), filmTrips, weight / 2);
      at += termsPerRay;
    }
  }
  return out;
}
