import type { StagePoint } from '../units/index.ts';
import type { Clearance, Cleanliness, EdgeFamily, FlakeBar, FlakeNote, RankParts, StraightEdge } from './shape/types.ts';

/** Why a region that differs from the substrate is not called a flake. */
export type RejectReason =
  | 'softEdge'
  | 'offLayerCurve'
  | 'unevenInside'
  | 'line'
  | 'dark'
  | 'tooSmall'
  | 'chipEdge'
  | 'tooBright'
  /** At the same place of every frame: on the sensor, not on the chip. */
  | 'sensorDust'
  /** Brighter than any film: a patterned mark. */
  | 'metal';

/** One region of even contrast as measured in one frame; no layer number yet, so that it can be read again with a better ladder. */
export interface MeasuredTerrace {
  /** Outer edge in stage um, closed (the first corner is not repeated). */
  readonly outlineUm: readonly StagePoint[];
  readonly areaUm2: number;
  /** Contrast C = (R0 - R)/R0 for each channel (one for mono, red green blue for colour), linear light, flare removed. */
  readonly contrast: readonly number[];
  /** One standard error of each contrast. */
  readonly contrastError: readonly number[];
  /** 10 % to 90 % width of its edge against the optics' own; 1 is as sharp as can be, a dried film is far above. */
  readonly edgeWidthRatio: number;
  /** Spread of contrast inside over what noise explains; 1 is even. */
  readonly unevenness: number;
  /** Largest circle that fits on this terrace, um across. */
  readonly inscribedUm: number;
  readonly inscribedCentreUm: StagePoint;
  /** Share of its samples that are at the camera's full scale. */
  readonly saturatedShare: number;
  /** Where bare oxide or dirt shows through holes and cracks in it, each closed, in stage um; what lies on top is no hole. */
  readonly holesUm?: readonly (readonly StagePoint[])[];
  /** Share of its inner samples that are something else than the even part it is measured by: bubbles, specks. */
  readonly blemishedShare?: number;
  /** Level of bare oxide close by against that of the whole frame, as contrast, in the channel where it is most: a halo. */
  readonly halo?: number;
}

/** A connected group of terraces in one frame: base first, each later one smaller. */
export interface Detection {
  readonly terraces: readonly MeasuredTerrace[];
  readonly outlineUm: readonly StagePoint[];
  readonly areaUm2: number;
  readonly touchesFrameEdge: boolean;
  /** Set where the frame alone decides that this is no flake. */
  readonly reject?: RejectReason;
}

/** A thickness read from colour. */
export interface ThicknessCall {
  /** Mean of the leading reading, and its 95 % interval; open above where the curve says nothing more or ends. */
  readonly nm: number;
  readonly lowNm: number;
  readonly highNm: number | null;
  /** Probability of the leading reading. */
  readonly weight: number;
  /** Where the colour repeats: other readings with 5 % or more, with one standard error, the likeliest first. */
  readonly alternatives: readonly { readonly nm: number; readonly errorNm: number; readonly weight: number }[];
}

/** Probability of 0, 1, ..., 10 layers and of more, adding up to 1. */
export interface LayerCall {
  /** The most probable number; null when thicker than can be counted, or not on the layer curve. */
  readonly layers: number | null;
  /** That this number is right: its share among all films, times the probability that it is a film at all. */
  readonly probability: number;
  /** Probability that it is no film of the ladder: residue, dried film, dirt. Records of before it did have none. */
  readonly stray?: number;
  /** Index 0 to 10 are layer numbers, index 11 is "thicker". */
  readonly probabilities: readonly number[];
  /** The fewest layer numbers that together hold 95 % of the probability, ascending; 11 is "thicker". Records of before it did have none. */
  readonly among?: readonly number[];
  /** Where thickness is what is measured (hBN, graphite): what may be said of it. */
  readonly thickness?: ThicknessCall;
  /** The same in short: nm of the leading reading, with one standard error. */
  readonly thicknessNm?: number;
  readonly thicknessErrorNm?: number;
  /** Distance to the layer curve in standard errors (chi-square per channel, square root). */
  readonly misfit: number;
}

export interface Terrace extends MeasuredTerrace {
  readonly call: LayerCall;
}

export type FlakeVerdict = 'flagged' | 'thick' | 'rejected';

/** One flake of a chip, merged over all frames that show it. */
export interface Flake {
  /** Unique in a run, stable over updates and resumes. */
  readonly id: string;
  readonly chip: string;
  /** The tile whose frame shows it best. */
  readonly bestTile: number;
  /** Every tile that shows it. */
  readonly tiles: readonly number[];
  readonly centreUm: StagePoint;
  readonly terraces: readonly Terrace[];
  readonly verdict: FlakeVerdict;
  readonly reject?: RejectReason;
  /** The thinnest counted terrace that is large enough, else of the largest counted one; null when none is counted. */
  readonly layers: number | null;
  /** Largest circle on a terrace of `layers`, um across. */
  readonly usableUm: number;
  readonly areaUm2: number;
  /** Higher is better; see rank.ts for what it is made of. */
  readonly rank: number;
  /** For flagged flakes, what shape/survey.ts finds: the largest rectangle on the terrace that counts, clear of what lies on it. */
  readonly bar?: FlakeBar;
  /** Straight edges of all terraces, longest first. */
  readonly edges?: readonly StraightEdge[];
  readonly edgeFamily?: EdgeFamily;
  /** As the neighbours were when this flake last changed or the book was last read again. */
  readonly clearance?: Clearance;
  readonly cleanliness?: Cleanliness;
  readonly notes?: readonly FlakeNote[];
  readonly rankParts?: RankParts;
}
