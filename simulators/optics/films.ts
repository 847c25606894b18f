import type { IndexTable } from './indexTable.ts';
import { complex, type Complex } from './complexNumber.ts';
import { indexAt, WAVELENGTHS_NM } from './indexTable.ts';
import { throughBand, type LightPath } from './lightPath.ts';
import { coneReflectance, type Layer } from './reflectance.ts';
import { graphene } from './tables/graphene.ts';
import { graphite } from './tables/graphite.ts';
import { hbn } from './tables/hbn.ts';
import { mos2 } from './tables/mos2.ts';
import { silicon } from './tables/silicon.ts';

/** What simulated flakes are made of. */
export type FilmMaterial = 'graphene' | 'graphite' | 'hbn' | 'mos2';
export type Colour = readonly [number, number, number];

/** Layer spacings in nm: c/2 of the crystal, the figures of general tables (3.35, 3.33 and 6.15 angstrom). */
export const LAYER_NM: Readonly<Record<FilmMaterial, number>> = { graphene: 0.335, graphite: 0.335, hbn: 0.333, mos2: 0.615 };

const TABLES: Readonly<Record<FilmMaterial, IndexTable>> = { graphene, graphite, hbn, mos2 };

/** Thermal oxide is a little denser than fused silica; its index is raised by this share. */
const OXIDE_DENSER = 0.003;

/** Fused silica by I. H. Malitson's Sellmeier formula (J. Opt. Soc. Am. 55, 1205 (1965)), wavelength in um, raised for thermal oxide. */
export function oxideIndex(wavelengthNm: number): Complex {
  const squared = (wavelengthNm / 1000) ** 2;
  const term = (strength: number, resonanceUm: number) => (strength * squared) / (squared - resonanceUm ** 2);
  const n = Math.sqrt(1 + term(0.6961663, 0.0684043) + term(0.4079426, 0.1162414) + term(0.8974794, 9.896161));
  return complex(n * (1 + OXIDE_DENSER));
}

/** A film of one material, or bare oxide when left out. */
export interface Film {
  readonly material: FilmMaterial;
  readonly thicknessNm: number;
}

/**
 * Reflectance of a film on oxide on silicon in red, green and blue, as shares of a perfect mirror, averaged over the illuminated cone.
 * Stray light is not in it.
 */
export function filmColour(path: LightPath, numericalAperture: number, oxideNm: number, film?: Film): Colour {
  const cone = numericalAperture * path.pupilFilling;
  const spectrum = WAVELENGTHS_NM.map((nm, i) => {
    const oxide: Layer = { index: oxideIndex(nm), thicknessNm: oxideNm };
    const layers = film ? [{ index: indexAt(TABLES[film.material], i), thicknessNm: film.thicknessNm }, oxide] : [oxide];
    return coneReflectance(layers, indexAt(silicon, i), nm, cone);
  });
  const [red, green, blue] = path.weights;
  return [throughBand(spectrum, red), throughBand(spectrum, green), throughBand(spectrum, blue)];
}
