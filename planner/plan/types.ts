import type { BoxUm, Matrix2, StagePoint } from '../units/index.ts';

/** The edge of a chip as it lies on the stage, in stage um. */
export type Outline =
  | { readonly shape: 'rectangle'; readonly centreUm: StagePoint; readonly widthUm: number; readonly heightUm: number; readonly angleDeg: number }
  | { readonly shape: 'polygon'; readonly cornersUm: readonly StagePoint[] }
  | { readonly shape: 'circle'; readonly centreUm: StagePoint; readonly radiusUm: number };

/** What the planner must know of one chip. */
export interface ChipToScan {
  readonly name: string;
  readonly outline: Outline;
  /** A rim of the chip that is not scanned: edge bead, tweezer marks. */
  readonly edgeMarginUm: number;
}

/** How fast the instrument is; from `instrument.yaml`. */
export interface StageTiming {
  readonly maxSpeedUmPerS: number;
  readonly accelerationUmPerS2: number;
  readonly settleMs: number;
  /** Taken up by approaching every target from the low side of both axes; 0 for none. */
  readonly backlashUm: number;
  readonly focusSpeedUmPerS: number;
  readonly focusSettleMs: number;
  readonly exposureMs: number;
  readonly readoutMs: number;
  /** Bytes kept per tile: the frame for the map, crops, rows. */
  readonly bytesPerTile: number;
}

/** The limits that the audit holds a plan against. */
export interface PlanLimits extends BoxUm<'stage'> {
  readonly zMinUm: number;
  readonly zMaxUm: number;
}

/** How far the stage may go with the objective down, and how far the objective is raised for longer ways. */
export interface LowTravel {
  readonly maxUm: number;
  readonly raiseUm: number;
}

export interface PlanRequest {
  readonly chips: readonly ChipToScan[];
  readonly frameWidthPx: number;
  readonly frameHeightPx: number;
  readonly cameraToStageUm: Matrix2;
  /** Share of a frame's side that neighbours have in common, 0 to 0.5. */
  readonly overlap: number;
  readonly focusPointsPerChip: number;
  readonly exposuresPerFocusPoint: number;
  readonly limits: PlanLimits;
  readonly timing: StageTiming;
  /** Where known, the forecast counts raising and lowering the objective on long ways. */
  readonly lowTravel?: LowTravel;
}

/** One frame to take. `index` counts over the whole plan, in the order of the route. */
export interface Tile {
  readonly index: number;
  readonly chip: string;
  readonly row: number;
  readonly column: number;
  readonly centreUm: StagePoint;
}

export interface PlannedChip {
  readonly name: string;
  /** The chip's edge as a polygon, in stage um. */
  readonly outlineUm: readonly StagePoint[];
  /** What is scanned: the outline without its margin; where a waist is too thin, the largest of several pieces. */
  readonly scannedUm: readonly StagePoint[];
  /** The smaller pieces, scanned as well; left out when there is none, as for nearly every chip. */
  readonly otherPiecesUm?: readonly (readonly StagePoint[])[];
  readonly focusPointsUm: readonly StagePoint[];
  readonly tiles: readonly Tile[];
  /** Area that is scanned, all pieces together. */
  readonly areaMm2: number;
}

export interface ScanPlan {
  readonly chips: readonly PlannedChip[];
  readonly tileCount: number;
  readonly forecastS: number;
  readonly diskBytes: number;
  readonly fieldWidthUm: number;
  readonly fieldHeightUm: number;
}

/** Why a plan is refused: a code with numbers, for the daemon's error table to put into words. Nothing has moved. */
export type PlanRefusal =
  | { readonly code: 'outlineTooFewCorners'; readonly chip: string; readonly corners: number }
  | { readonly code: 'outlineCrossesItself'; readonly chip: string; readonly edgeA: number; readonly edgeB: number }
  | { readonly code: 'outlineEmpty'; readonly chip: string; readonly edgeMarginUm: number }
  | { readonly code: 'chipsOverlap'; readonly chip: string; readonly other: string }
  | { readonly code: 'overlapRange'; readonly overlap: number; readonly max: number }
  | { readonly code: 'beyondTravel'; readonly chip: string; readonly limit: 'xMin' | 'xMax' | 'yMin' | 'yMax'; readonly byUm: number; readonly limitUm: number }
  | { readonly code: 'tooManyTiles'; readonly tiles: number; readonly max: number };

export type PlanResult = { readonly ok: true; readonly plan: ScanPlan } | { readonly ok: false; readonly refusals: readonly PlanRefusal[] };
