import type { FrameSet } from '../../drivers/frameset/index.ts';
import type { DriverErrorCode } from '../../drivers/interfaces/index.ts';
import { flakesOf } from '../../planner/flakes/book.ts';
import type { Book } from '../../planner/flakes/book.ts';
import type { Flake, RejectReason, Terrace, ThicknessCall } from '../../planner/flakes/types.ts';
import { numbersHolding } from '../../planner/layers/range.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { FrameFault } from '../vision/types.ts';
import { shapeReport } from './shapeReport.ts';
import type { ShapeReport } from './shapeReport.ts';

type Pair = readonly [number, number];

/** What was wrong with one image of a set. */
export interface FrameProblem {
  readonly file: string;
  readonly code: DriverErrorCode | FrameFault;
  readonly detail?: string;
}

export interface TerraceReport {
  /** Null for a terrace too thick to count. */
  readonly layers: number | null;
  readonly probability: number;
  /** Of 0 to 10 layers, then of more. */
  readonly probabilities: readonly number[];
  readonly areaUm2: number;
  readonly usableUm: number;
  readonly contrast: readonly number[];
  readonly contrastError: readonly number[];
  readonly misfit: number;
  /** The fewest numbers that hold 95 % of the probability together; 11 is more than 10. */
  readonly among: readonly number[];
  readonly thicknessNm?: number;
  readonly thicknessErrorNm?: number;
  readonly thickness?: ThicknessCall;
  readonly tooBright?: true;
  readonly outlineUm: readonly Pair[];
}

export interface FlakeReport extends ShapeReport {
  readonly id: string;
  readonly verdict: Flake['verdict'];
  readonly centreUm: Pair;
  readonly layers: number | null;
  readonly usableUm: number;
  readonly areaUm2: number;
  readonly rank: number;
  /** Files of the frames that show it. */
  readonly frames: readonly string[];
  readonly terraces: readonly TerraceReport[];
}

export interface RejectReport {
  readonly reason: RejectReason;
  readonly centreUm: Pair;
  readonly areaUm2: number;
  readonly outlineUm: readonly Pair[];
}

/** What a classifier hands back for a frame set, as JSON: the flakes in stage um, and what was no flake apart from them. */
export interface FrameSetReport {
  readonly title: string;
  readonly material: string;
  readonly frames: number;
  /** Images that could not be used, by name. */
  readonly problems: readonly FrameProblem[];
  /** Where the contrast ladder settled. */
  readonly ladder?: { readonly oxideNm: number; readonly terraces: number; readonly contrast: readonly (readonly number[])[] };
  readonly flakes: readonly FlakeReport[];
  readonly rejected: readonly RejectReport[];
}

/** Rungs of the ladder that are written down. */
const RUNGS_WRITTEN = 10;
const TOO_BRIGHT = 0.2;

export function reportOf(set: FrameSet, book: Book, problems: readonly FrameProblem[]): FrameSetReport {
  const flakes = flakesOf(book);
  const ladder = ladderReport(book);
  return {
    title: set.title,
    material: set.material,
    frames: set.frames.length,
    problems: [...problems].sort((a, b) => a.file.localeCompare(b.file)),
    ...(ladder ? { ladder } : {}),
    flakes: flakes.filter((f) => f.verdict !== 'rejected').map((f) => flakeReport(f, set)),
    rejected: flakes.flatMap((f) => (f.reject ? [rejectReport(f, f.reject)] : [])),
  };
}

function ladderReport(book: Book): FrameSetReport['ladder'] {
  const best = book.ladder?.hypotheses[0];
  if (!book.ladder || !best) return undefined;
  const { channels, contrast } = best.rungs;
  const rows = Array.from({ length: RUNGS_WRITTEN }, (_, i) => Array.from(contrast.subarray((i + 1) * channels, (i + 2) * channels), (c) => rounded(c, 4)));
  return { oxideNm: rounded(best.setting.oxideNm, 1), terraces: book.ladder.samples, contrast: rows };
}

function flakeReport(flake: Flake, set: FrameSet): FlakeReport {
  return {
    id: flake.id,
    verdict: flake.verdict,
    centreUm: pair(flake.centreUm),
    layers: flake.layers,
    usableUm: rounded(flake.usableUm, 2),
    areaUm2: rounded(flake.areaUm2, 1),
    rank: rounded(flake.rank, 2),
    frames: flake.tiles.flatMap((tile) => set.frames[tile]?.file ?? []),
    terraces: flake.terraces.map(terraceReport),
    ...shapeReport(flake),
  };
}

function terraceReport(terrace: Terrace): TerraceReport {
  const { call } = terrace;
  const tooBright = terrace.saturatedShare > TOO_BRIGHT;
  return {
    layers: call.layers,
    probability: rounded(call.probability, 4),
    probabilities: call.probabilities.map((p) => rounded(p, 4)),
    areaUm2: rounded(terrace.areaUm2, 1),
    usableUm: rounded(terrace.inscribedUm, 2),
    contrast: terrace.contrast.map((c) => rounded(c, 5)),
    contrastError: terrace.contrastError.map((c) => rounded(c, 5)),
    misfit: rounded(call.misfit, 2),
    among: call.among ?? numbersHolding(call.probabilities),
    ...(call.thicknessNm === undefined || tooBright ? {} : { thicknessNm: rounded(call.thicknessNm, 2) }),
    ...(call.thicknessErrorNm === undefined || tooBright ? {} : { thicknessErrorNm: rounded(call.thicknessErrorNm, 2) }),
    ...(call.thickness === undefined || tooBright ? {} : { thickness: thicknessReport(call.thickness) }),
    ...(tooBright ? { tooBright: true as const } : {}),
    outlineUm: terrace.outlineUm.map(pair),
  };
}

function thicknessReport({ nm, lowNm, highNm, weight, alternatives }: ThicknessCall): ThicknessCall {
  return {
    nm: rounded(nm, 2),
    lowNm: rounded(lowNm, 1),
    highNm: highNm === null ? null : rounded(highNm, 1),
    weight: rounded(weight, 3),
    alternatives: alternatives.map((other) => ({ nm: rounded(other.nm, 1), errorNm: rounded(other.errorNm, 1), weight: rounded(other.weight, 3) })),
  };
}

function rejectReport(flake: Flake, reason: RejectReason): RejectReport {
  const outline = flake.terraces.reduce<readonly StagePoint[]>((longest, t) => (t.outlineUm.length > longest.length ? t.outlineUm : longest), []);
  return { reason, centreUm: pair(flake.centreUm), areaUm2: rounded(flake.areaUm2, 1), outlineUm: outline.map(pair) };
}

function pair(p: StagePoint): Pair {
  return [rounded(p.xUm, 3), rounded(p.yUm, 3)];
}

function rounded(value: number, digits: number): number {
  const scale = 10 ** digits;
  return Math.round(value * scale) / scale;
}
