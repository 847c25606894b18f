import { inscribedInMask } from '../../planner/flakes/inscribed.ts';
import type { InscribedCircle } from '../../planner/flakes/inscribed.ts';
import type { Detection, MeasuredTerrace, RejectReason } from '../../planner/flakes/types.ts';
import { pixelAreaUm2, pixelToStage } from '../../planner/units/index.ts';
import type { FramePose } from '../../planner/units/index.ts';
import { edgeWidthRatio, projector, slopesOf } from './edges.ts';
import type { Projector, Slopes } from './edges.ts';
import { varianceAt } from './noise.ts';
import { edgesAround, outlineOf } from './outline.ts';
import type { Division, Region } from './regions.ts';
import { bordersOf } from './borders.ts';
import { isBeyondChip } from './chipEdge.ts';
import { evennessOf, forEachSample } from './uneven.ts';
import type { Evenness } from './uneven.ts';
import type { Window } from './window.ts';

/** What the optics make of a point, in samples of this frame. */
export interface PointSpread {
  /** Sigma with the pixel's own width. */
  readonly sigmaPx: number;
  /** Beyond this an edge no longer shows. */
  readonly clearPx: number;
}

/** Edges wider than this against the optics' own belong to no crystal: a dried film, residue. */
const SOFT_EDGE = 2;
/** Spread inside a terrace over noise beyond which it is not even. */
const UNEVEN = 2;
/** Darker than this in every channel is dust, in its own shadow. */
const DARK = 0.88;
/** More area than this many squared radii of its largest circle: a line, a scratch (a disc has 3.14, a strip of 1 to 12 has 48). */
const LINE = 48;
/** What a flake may lie beside without being part of it. */
const ENDS_SHARPLY: ReadonlySet<RejectReason> = new Set(['dark', 'chipEdge']);
/** Terraces smaller than this, in samples, are not measured. */
const LEAST_SAMPLES = 9;
/** But what is this wide anywhere is no scratch, um. */
const LINE_WIDEST_UM = 8;
/** Where more than this share of a component is no flake, its flat places are suspected too: residue has them. */
const BAD_SHARE = 0.5;
/** And a flat place goes with what is no flake when more than this share of its border is towards that (a band around residue has nearly half). */
const ENCLOSED_SHARE = 0.35;

/** Of what is no flake, so many regions are kept. */
const REJECTS_KEPT = 3;

/** A region as far as it must be known to be judged. */
interface Judged {
  readonly region: Region;
  readonly circle: InscribedCircle;
  readonly edgeWidthRatio: number;
  readonly even: Evenness;
  readonly saturatedShare: number;
  readonly reject: RejectReason | undefined;
}

/** The flake that a component is, if any, and what of it is none, each with its reason. */
export function detectionsOf(window: Window, division: Division, psf: PointSpread, pose: FramePose): readonly Detection[] {
  const project = projector(window, division);
  const slopes = slopesOf(window);
  const pixelUm = Math.sqrt(pixelAreaUm2(pose.cameraToStageUm));
  const regions = division.regions.filter((r) => r.label > 0 && r.count >= LEAST_SAMPLES);
  const each = regions.map((r) => {
    const found = judge(window, division, slopes, r, psf, pixelUm);
    return isBeyondChip(window, division, project, r, pose) ? { ...found, reject: 'chipEdge' as const } : found;
  });
  const judged = judgeWhole(window, division, each);
  const touches = touchesFrameEdge(window, pose);
  const detect = (some: readonly Judged[]): Detection => {
    const labels = new Set(some.map((m) => m.region.label));
    const terraces = some.map((m) => measure(window, division, project, m, (label) => label !== m.region.label && labels.has(label), pose));
    const outlineUm = outlineOf(window, division, project, (label) => labels.has(label), pose);
    return { terraces, outlineUm, areaUm2: terraces.reduce((sum, t) => sum + t.areaUm2, 0), touchesFrameEdge: touches };
  };
  const largestFirst = [...judged].sort((a, b) => b.region.count - a.region.count || a.region.label - b.region.label);
  const good = largestFirst.filter((m) => m.reject === undefined);
  const reasons = [...new Set(judged.flatMap((m) => m.reject ?? []))];
  return [
    ...(good.length > 0 ? [detect(good)] : []),
    ...reasons.map((reject) => ({ ...detect(largestFirst.filter((m) => m.reject === reject).slice(0, REJECTS_KEPT)), reject })),
  ];
}

function judge(window: Window, division: Division, slopes: Slopes, region: Region, psf: PointSpread, pixelUm: number): Judged {
  const { box } = region;
  const width = box.colEnd - box.colFrom;
  const mask = new Uint8Array(width * (box.rowEnd - box.rowFrom));
  let saturated = 0;
  forEachSample(window, division, region, (at, col, row) => {
    mask[(row - box.rowFrom) * width + col - box.colFrom] = 1;
    saturated += window.saturated[at] as number;
  });
  const found = {
    region,
    circle: inscribedInMask(mask, width, box.rowEnd - box.rowFrom),
    edgeWidthRatio: edgeWidthRatio(window, division, slopes, region.label, psf.sigmaPx),
    even: evennessOf(window, division, region),
    saturatedShare: saturated / region.count,
  };
  return { ...found, reject: rejectReason(found, pixelUm) };
}

function rejectReason({ region, circle, edgeWidthRatio: edge, even }: Omit<Judged, 'reject'>, pixelUm: number): RejectReason | undefined {
  if (region.mean.every((c) => c > DARK)) return 'dark';
  if (edge > SOFT_EDGE) return 'softEdge';
  if (region.coreCount >= 20 && even.unevenness > UNEVEN) return 'unevenInside';
  const isNarrow = 2 * circle.radiusPx * pixelUm < LINE_WIDEST_UM;
  return isNarrow && region.count > LINE * circle.radiusPx * circle.radiusPx ? 'line' : undefined;
}

/**
 * Residue and dried films have flat places: where most of a component is no flake, those that such things surround are none either. A
 * terrace that a film or a scratch only touches keeps its own judgement.
 */
function judgeWhole(window: Window, division: Division, judged: readonly Judged[]): readonly Judged[] {
  const area = (of: readonly Judged[]): number => of.reduce((sum, m) => sum + m.region.count, 0);
  const bad = judged.filter((m) => m.reject !== undefined && !ENDS_SHARPLY.has(m.reject));
  const [first] = bad;
  if (!first || area(bad) <= BAD_SHARE * area(judged)) return judged;
  const reason = bad.reduce((worst, m) => (m.region.count > worst.region.count ? m : worst), first).reject;
  const borders = bordersOf(window, division);
  const badLabels = new Set(bad.map((m) => m.region.label));
  const good = judged.filter((m) => m.reject === undefined);
  // What such a place encloses in turn goes too: the bands of a film lie one inside the other.
  for (let before = -1; before !== badLabels.size; ) {
    before = badLabels.size;
    for (const m of good) if (enclosedShare(borders[m.region.label], badLabels) > ENCLOSED_SHARE) badLabels.add(m.region.label);
  }
  return judged.map((m) => (m.reject === undefined && badLabels.has(m.region.label) ? { ...m, reject: reason } : m));
}

/** Share of a border that is towards some labels. */
function enclosedShare(border: ReadonlyMap<number, number> | undefined, labels: ReadonlySet<number>): number {
  let [inside, all] = [0, 0];
  for (const [label, sides] of border ?? []) {
    all += sides;
    if (labels.has(label)) inside += sides;
  }
  return inside / Math.max(1, all);
}

function measure(window: Window, division: Division, project: Projector, judged: Judged, liesOn: (label: number) => boolean, pose: FramePose): MeasuredTerrace {
  const { region, circle, edgeWidthRatio: edge, even, saturatedShare } = judged;
  const areaPerSample = pixelAreaUm2(pose.cameraToStageUm);
  const { outlineUm, holesUm } = edgesAround(window, division, project, (label) => label === region.label, liesOn, pose);
  const halo = window.halo.reduce((most, h) => (Math.abs(h) > Math.abs(most) ? h : most), 0);
  return {
    outlineUm,
    ...(holesUm.length > 0 ? { holesUm } : {}),
    ...(even.blemishedShare > 0 ? { blemishedShare: even.blemishedShare } : {}),
    halo,
    areaUm2: region.count * areaPerSample,
    contrast: even.mean,
    contrastError: even.mean.map((m, c) => {
      const noise = varianceAt(window.noise[c] as number, m) / Math.max(1, even.count);
      return Math.hypot(Math.sqrt(noise), (window.levelError[c] as number) * Math.abs(1 - m), 0.001);
    }),
    edgeWidthRatio: edge,
    unevenness: even.unevenness,
    inscribedUm: 2 * circle.radiusPx * Math.sqrt(areaPerSample),
    inscribedCentreUm: pixelToStage(pose, { colPx: circle.colPx + window.colFrom + region.box.colFrom, rowPx: circle.rowPx + window.rowFrom + region.box.rowFrom }),
    saturatedShare,
  };
}

function touchesFrameEdge(window: Window, pose: FramePose): boolean {
  const { width, inside, colFrom, rowFrom } = window;
  for (const at of inside) {
    const col = (at % width) + colFrom;
    const row = Math.floor(at / width) + rowFrom;
    if (row === 0 || col === 0 || row === pose.heightPx - 1 || col === pose.widthPx - 1) return true;
  }
  return false;
}
