import type { StagePoint } from '../../units/index.ts';

/** The largest rectangle on the part that counts: longer side, shorter side, direction of the longer one from +x towards +y, 0 to below 180. */
export interface FlakeBar {
  readonly lengthUm: number;
  readonly widthUm: number;
  readonly angleDeg: number;
  readonly centreUm: StagePoint;
}

/** A straight piece of a terrace's edge. */
export interface StraightEdge {
  /** Which terrace of the flake it belongs to. */
  readonly terrace: number;
  readonly fromUm: StagePoint;
  readonly toUm: StagePoint;
  readonly lengthUm: number;
  /** Direction from +x towards +y on the stage, 0 to below 180 degrees, with one standard error. */
  readonly angleDeg: number;
  readonly angleErrorDeg: number;
  /** Whether it belongs to the flake's family of directions. */
  readonly inFamily: boolean;
}

/** Directions that lie whole multiples of 30 degrees apart, as crystal edges do (zigzag and armchair). */
export interface EdgeFamily {
  /** Where the family lies, 0 to below 30 degrees, with one standard error. */
  readonly angleDeg: number;
  readonly angleErrorDeg: number;
  /** Different directions of straight edges, and how many of them belong to the family. */
  readonly directions: number;
  readonly members: number;
  /** Share of the straight edges' length that belongs to it. */
  readonly lengthShare: number;
  /** Probability that directions drawn at random would agree as well, 0 to 1: small is sure. */
  readonly chance: number;
}

/** How far the nearest thing lies that a stamp must not touch. */
export interface Clearance {
  /** Radius of the free circle about the flake's centre, um. */
  readonly radiusUm: number;
  /** Free room between the flake's own outline and that thing, um; 0 where they touch. */
  readonly gapUm: number;
  /** Id of that thing in the book; left out where none was found as far as was looked, and the two numbers are "at least". */
  readonly nearest?: string;
}

/** Dirt and damage on the terrace that counts. */
export interface Cleanliness {
  /** Share of the terrace that is neither covered nor cut, 0 to 1. */
  readonly share: number;
  /** How many blemishes lie on it or touch it. */
  readonly blemishes: number;
}

/** What a person should know before trusting a flake; numbers only, the words are the page's. */
export type FlakeNote =
  /** Terrace `terrace` has twice the layers of `base` and lies along its edge as a strip: grown or folded over. */
  | { readonly kind: 'twoLayersOrFold'; readonly terrace: number; readonly base: number; readonly layers: number; readonly widthUm: number }
  /** The terrace that counts is fewer resolution elements across than wanted: confirm at higher magnification. */
  | { readonly kind: 'confirmLarger'; readonly terrace: number; readonly acrossUm: number; readonly neededUm: number }
  /** The largest circle on the terrace that counts is smaller than what the run sheet asks for: ranked below all others. */
  /** Bare oxide beside the flake is not as bright as that of the whole frame: its contrast, or the frame's, is less sure. */
  | { readonly kind: 'halo'; readonly terrace: number; readonly contrast: number }
  | { readonly kind: 'smallerThanWanted'; readonly terrace: number; readonly acrossUm: number; readonly wantedUm: number };

/** Why a flake ranks where it does: shares of 0 to 1, whose product times 100 is the rank. */
export interface RankParts {
  readonly size: number;
  readonly layers: number;
  readonly probability: number;
  readonly cleanliness: number;
  /** Left out where the flake is as large as wanted; else so small a share that it stands below all that are. */
  readonly enough?: number;
}
