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
  /** Areas that are not scanned; none when left out. */
  readonly skip?: readonly Outline[];
  /** The stage waits at each tile until its frame is in, because a second exposure may be needed; left out where it may go on at once. */
  readonly waitsForFrame?: boolean;
}

/** How fast the instrument is; from `instrument.yaml`. */
export interface StageTiming {
  readonly maxSpeedUmPerS: number;
  readonly accelerationUmPerS2: number;
  /** Without it, acceleration begins and ends at once. */
  readonly jerkUmPerS3?: number;
  /** Top speed with the objective at the safe height; `maxSpeedUmPerS` is the one below it, at which tiles are taken. */
  readonly highSpeedUmPerS: number;
  readonly settleMs: number;
  /** Taken up by approaching every target from the low side of both axes; 0 for none. */
  readonly backlashUm: number;
  /** The slack of x and y as measured; with it no take-up is needed from tile to tile. */
  readonly playUm?: readonly [x: number, y: number];
  readonly focusSpeedUmPerS: number;
  readonly focusAccelerationUmPerS2: number;
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

/** What the policy of focus goes by; see `focusExposures` in planner/focus. */
export interface FocusPlan {
  /** Searched above and below the expected height at a chip's first point. */
  readonly rangeUm: number;
  readonly depthOfFieldUm: number;
  /** From how far below each height is reached. */
  readonly takeUpUm: number;
}

/** A flake of a control sample that every night goes to. */
export interface KnownFlakePlace {
  readonly name: string;
  readonly atUm: StagePoint;
  /** What one visit takes once the stage is there. */
  readonly visitS: number;
}

export interface PlanRequest {
  readonly chips: readonly ChipToScan[];
  readonly frameWidthPx: number;
  readonly frameHeightPx: number;
  readonly cameraToStageUm: Matrix2;
  /** Share of a frame's side that neighbours have in common, 0 to 0.5. */
  readonly overlap: number;
  readonly focusPointsPerChip: number;
  readonly focus: FocusPlan;
  readonly limits: PlanLimits;
  readonly timing: StageTiming;
  /** Chips are taken in the order that needs the least time, not as listed. */
  readonly reorderChips?: boolean;
  /** Where the stage stands before, if that is known: for the forecast and the order of chips. */
  readonly fromUm?: StagePoint;
  /** Gone to before the first chip and after the last tile; see planner/knownFlake. */
  readonly knownFlake?: KnownFlakePlace;
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
  /** Areas within that are skipped; left out when there are none. */
  readonly skipUm?: readonly (readonly StagePoint[])[];
  readonly focusPointsUm: readonly StagePoint[];
  readonly tiles: readonly Tile[];
  /** Area that is scanned, all pieces together, without what is skipped. */
  readonly areaMm2: number;
  readonly notices?: readonly PlanNotice[];
}

/** What a person should know of a plan that is sound: it will be run all the same. */
export type PlanNotice =
  /** The whole chip fits into one field: its edge and what lies beyond will be in the picture. */
  | { readonly code: 'fieldWiderThanChip'; readonly fieldUm: number; readonly chipUm: number }
  /** Inside its margin the chip falls into several pieces. */
  | { readonly code: 'marginCutsApart'; readonly pieces: number };

export interface ScanPlan {
  readonly chips: readonly PlannedChip[];
  readonly tileCount: number;
  readonly forecastS: number;
  /** The least time that this instrument needs for these tiles: see `boundSeconds`. Not in plans made before it was worked out. */
  readonly boundS?: number;
  readonly diskBytes: number;
  /** What comes after the last tile, where the run sheet asks for it: the time that close-ups may take, and about how many fit into it. */
  readonly closeUps?: { readonly budgetS: number; readonly about: number };
  /** Gone to before the first chip and after the last tile, where the instrument has one; counted in `forecastS`. */
  readonly knownFlake?: KnownFlakePlace;
  readonly fieldWidthUm: number;
  readonly fieldHeightUm: number;
}

/** Why a plan is refused: a code with numbers, for the daemon's error table to put into words. Nothing has moved. */
export type PlanRefusal =
  | { readonly code: 'outlineTooFewCorners'; readonly chip: string; readonly corners: number }
  | { readonly code: 'outlineCrossesItself'; readonly chip: string; readonly edgeA: number; readonly edgeB: number }
  /** Everything within the margin is to be skipped. */
  | { readonly code: 'allSkipped'; readonly chip: string }
  /** An area to skip that is no area: fewer than three corners, or sides that cross. */
  | { readonly code: 'skipUnsound'; readonly chip: string; readonly skip: number; readonly crosses: boolean }
  | { readonly code: 'outlineEmpty'; readonly chip: string; readonly edgeMarginUm: number }
  | { readonly code: 'chipsOverlap'; readonly chip: string; readonly other: string }
  | { readonly code: 'overlapRange'; readonly overlap: number; readonly max: number }
  | { readonly code: 'beyondTravel'; readonly chip: string; readonly limit: 'xMin' | 'xMax' | 'yMin' | 'yMax'; readonly byUm: number; readonly limitUm: number }
  | { readonly code: 'tooManyTiles'; readonly tiles: number; readonly max: number };

export type PlanResult = { readonly ok: true; readonly plan: ScanPlan } | { readonly ok: false; readonly refusals: readonly PlanRefusal[] };
