import type { StageBox, StagePoint } from '../../planner/units/index.ts';
import type { Film, FilmMaterial } from '../optics/films.ts';
import type { Colour } from '../optics/films.ts';

/** How many patches of dirt lie on a chip, per mm2. */
export interface Dirt {
  /** Dried solvent: wide, faint, with soft edges; some are rings. */
  readonly films: number;
  /** Lumps of tape glue. */
  readonly residue: number;
  readonly bubbles: number;
  readonly dust: number;
  readonly scratches: number;
}

/** Flakes with this many layers in their lowest terrace are this frequent, against the others. */
export interface LayerShare {
  readonly layers: readonly [number, number];
  readonly weight: number;
}

/** Height of focus over one chip: a tilted plane with a bow, in um of the focus drive for the first objective. */
export interface ChipSurface {
  readonly focusUm: number;
  /** Rise along the chip's own x and y. */
  readonly tiltXMrad: number;
  readonly tiltYMrad: number;
  /** How much higher the middle is than the middle of an edge would be if flat. */
  readonly bowUm: number;
}

/** What to put on the tray: one chip. */
export interface ChipRecipe {
  readonly name: string;
  readonly centreUm: StagePoint;
  readonly widthUm: number;
  readonly heightUm: number;
  readonly angleDeg: number;
  readonly material: Exclude<FilmMaterial, 'graphite'>;
  /** What the wafer box says; the truth is a few nm off. */
  readonly nominalOxideNm: number;
  readonly flakesPerMm2: number;
  readonly layerShares: readonly [LayerShare, ...LayerShare[]];
  /** Radius of flakes: most are near the first, the largest reach the second. */
  readonly flakeRadiusUm: readonly [number, number];
  readonly dirt: Dirt;
  readonly surface: ChipSurface;
  /** Makes a stage micrometer of it. */
  readonly ruling?: Ruling;
}

/** Dark lines at equal distances about the middle, at right angles to the chip's x axis. */
export interface Ruling {
  readonly pitchUm: number;
  readonly lineUm: number;
  readonly lengthUm: number;
  readonly lines: number;
}

export interface Tray {
  readonly name: string;
  readonly chips: readonly ChipRecipe[];
}

/** A region of one thickness; each later terrace of a flake lies on the one before. */
export interface TrueTerrace {
  readonly layers: number;
  readonly film: Film;
  readonly outlineUm: readonly StagePoint[];
}

export interface TrueFlake {
  readonly terraces: readonly TrueTerrace[];
}

/** A patch that multiplies the light: dirt that is no film of the chip's material. */
export type Blemish =
  | {
      readonly kind: 'blob';
      readonly box: StageBox;
      readonly centreUm: StagePoint;
      readonly radiusUm: number;
      /** Width of the edge, from full effect to none. */
      readonly softUm: number;
      /** Out of roundness: radius times 1 + a cos(2 t + p) + a cos(3 t - p). */
      readonly lobe: number;
      readonly phase: number;
      /** Turned as a whole since it was made; not at all when left out. */
      readonly turnRad?: number;
      /** Share of the radius that is left alone in the middle: 0 for a full patch, 0.8 for a ring. */
      readonly hollow: number;
      readonly factors: Colour;
    }
  | { readonly kind: 'stripe'; readonly box: StageBox; readonly outlineUm: readonly StagePoint[]; readonly factors: Colour };

/** One chip as it truly is. Positions are true stage um. */
export interface WorldChip {
  readonly name: string;
  readonly centreUm: StagePoint;
  readonly widthUm: number;
  readonly heightUm: number;
  readonly angleDeg: number;
  readonly outlineUm: readonly StagePoint[];
  readonly oxideNm: number;
  readonly surface: ChipSurface;
  readonly flakes: readonly TrueFlake[];
  readonly blemishes: readonly Blemish[];
}

/** The whole truth. It never leaves `simulators/` except into tests. */
export interface World {
  readonly seed: number;
  readonly chips: readonly WorldChip[];
}
