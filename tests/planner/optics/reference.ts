import { readFileSync } from 'node:fs';
import type { Lamp } from '../../../planner/optics/index.ts';

type Pair = readonly [number, number];

/** One monochromatic case of tests/reference/optics-examples.json. */
export interface MonochromaticCase {
  readonly id: string;
  readonly film: string;
  readonly film_thickness_nm: number;
  readonly oxide_nm: number;
  readonly wavelength_nm: number;
  readonly NA: number;
  readonly n_film: Pair;
  readonly n_oxide: Pair;
  readonly n_si: Pair;
  readonly R0: number;
  readonly R: number;
  readonly contrast: number;
}

/** One broadband block of the same file. */
export interface BroadbandBlock {
  readonly oxide_nm: number;
  readonly illuminant: 'illuminant-d65' | 'planck-3200k';
  readonly NA: number;
  readonly XYZ: readonly number[];
  readonly linear_srgb: readonly number[];
  readonly linear_srgb_white_balanced: readonly number[];
  readonly srgb8_white_balanced: readonly number[];
  readonly bands: readonly number[];
  readonly graphene: readonly {
    readonly layers: number;
    readonly contrast_bands: readonly number[];
    readonly contrast_linear_srgb: readonly number[];
    readonly contrast_Y: number;
  }[];
}

const read = (name: string): string => readFileSync(new URL(`../../reference/${name}`, import.meta.url), 'utf8');

export const examples = JSON.parse(read('optics-examples.json')) as {
  readonly cases: readonly MonochromaticCase[];
  readonly broadband: readonly BroadbandBlock[];
};

/** The second column of a reference spectrum, 380 to 780 nm every 5 nm. */
export function referenceSpectrum(name: BroadbandBlock['illuminant']): number[] {
  return read(`optics-${name}.csv`)
    .split('\n')
    .filter((line) => /^\d/.test(line))
    .map((line) => Number(line.split(',')[1]));
}

export function referenceLamp(name: BroadbandBlock['illuminant']): Lamp {
  return { kind: 'tabulated', startNm: 380, stepNm: 5, power: referenceSpectrum(name) };
}

/** The most a value may differ from a reference: one part in 10,000, plus the reference's own rounding to six decimals. */
export const allowed = (value: number): number => 1e-4 * Math.abs(value) + 6e-7;
