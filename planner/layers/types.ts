import type { BandSet, Film, MaterialId } from '../optics/index.ts';

/** What is known beforehand of the flakes, the wafer and the light: the same for all flakes of one chip and optical path. */
export interface LadderContext {
  readonly material: MaterialId | Film;
  /** What the wafer's box says. */
  readonly oxideNm: number;
  readonly numericalAperture: number;
  readonly lamp: 'halogen' | 'whiteLed' | 'unknown';
  readonly channels: 1 | 3;
  /** The camera's channels where they are known; an idealised colour or mono camera otherwise. */
  readonly bands?: BandSet;
  /**
   * Level of bare oxide per channel, in any unit, where a neutral mirror was made neutral: its colour then says how thick the oxide is. Left
   * out where the white balance is another or unknown.
   */
  readonly bare?: readonly number[];
}

/** One contrast to read: per channel, with one standard error. */
export interface ContrastSample {
  readonly contrast: readonly number[];
  readonly contrastError: readonly number[];
}

/**
 * Where a layer number given by a person comes from: Raman or AFM measured it, an eye judged it without seeing the prediction, or with the
 * prediction before it.
 */
export type LabelSource = 'raman' | 'afm' | 'blindEye' | 'shownEye';

/** A terrace whose layer number a person has given, with the contrast that it had under this optical path on this substrate. */
export interface LabelledContrast extends ContrastSample {
  readonly layers: number;
  readonly source: LabelSource;
}

/** Where the wafer and the camera really are, as the ladder's fit finds it. Shares are logarithms, shifts in nm. */
export interface LadderSetting {
  readonly oxideNm: number;
  /** Optical thickness of a layer against the table's, per channel. */
  readonly scale: readonly number[];
  /** Shift of each channel's band, nm. */
  readonly shiftNm: readonly number[];
  /** Measured contrast over that of the stack, per channel: below 1 where stray light is left in it. */
  readonly gain: readonly number[];
}

/** The contrasts of every rung under one setting. */
export interface Rungs {
  /** Layer number of each rung; whole numbers, and further apart where the film is thick. */
  readonly layers: Float64Array;
  readonly channels: number;
  /** rung * channels + channel. */
  readonly contrast: Float64Array;
  /** Change of contrast per nm of oxide, same shape. */
  readonly perOxideNm: Float64Array;
  /** Variance of contrast for the layers between this rung and the next, where rungs are further apart than one layer; same shape. */
  readonly between: Float64Array;
}

/** One way in which the ladder may stand, with the weight that the flakes give it. */
export interface Hypothesis {
  readonly setting: LadderSetting;
  readonly rungs: Rungs;
  readonly thick: Rungs;
  readonly weight: number;
}

/** Where samples that stand on no rung lie, and how many of them there are. Plain data: it belongs to a ladder. */
export interface Strays {
  /** Share of strays among the samples, 0 to 1. */
  readonly share: number;
  /** Mean contrast, and lower triangle of the covariance's root; empty where there was nothing to learn it from. */
  readonly mean: readonly number[];
  readonly root: readonly (readonly number[])[];
}

/** The contrast ladder of a chip: what each layer number looks like, with what is not known about it. */
export interface Ladder {
  readonly context: LadderContext;
  readonly layerThicknessNm: number;
  /** The best hypothesis first; weights add up to 1. */
  readonly hypotheses: readonly Hypothesis[];
  /** How many terraces it was fitted to, those with a label among them. */
  readonly samples: number;
  /** How many of them had a layer number given by a person. */
  readonly labelled: number;
  /** What of the samples stands on no rung. */
  readonly strays: Strays;
}
