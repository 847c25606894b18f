import type { LabelledContrast } from '../layers/types.ts';
import type { BandSet, Film, MaterialId } from '../optics/index.ts';

/** What a chip's flakes are read with. */
export interface BookContext {
  readonly chip: string;
  readonly material: MaterialId | Film;
  readonly oxideNm: number;
  readonly numericalAperture: number;
  readonly lamp: 'halogen' | 'whiteLed' | 'unknown';
  readonly whiteBalance: 'substrate' | 'mirror' | 'unknown';
  /** Level of bare oxide per channel as a frame of this chip had it; only its colour counts, and only where a mirror was made neutral. */
  readonly bare?: readonly number[];
  /** The camera's channels where they are known. */
  readonly bands?: BandSet;
  /** Layer numbers that are looked for. */
  readonly layersFrom: number;
  readonly layersTo: number;
  /** Thickness that is looked for instead of layers, where it is what is measured (hBN, graphite). */
  readonly thicknessFromNm?: number;
  readonly thicknessToNm?: number;
  /** Smallest useful circle on a terrace, um across. */
  readonly leastUsableUm: number;
  /** Terraces whose layer number a person has given, under this optical path and on this substrate; none when left out. */
  readonly labelled?: readonly LabelledContrast[];
}
