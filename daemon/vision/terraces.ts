import { inscribedInMask } from '../../planner/flakes/inscribed.ts';
import type { Detection, MeasuredTerrace, RejectReason } from '../../planner/flakes/types.ts';
import { pixelAreaUm2, pixelToStage } from '../../planner/units/index.ts';
import type { FramePose } from '../../planner/units/index.ts';
import { edgeWidthRatio } from './edges.ts';
import { varianceAt } from './noise.ts';
import { outlineOf } from './outline.ts';
import type { Division, Region } from './regions.ts';
import { forEachSample, unevenness } from './uneven.ts';
import type { Window } from './window.ts';

/** What the optics make of a point, in samples of this frame. */
export interface PointSpread {
  /** Sigma with the pixel's own width. */
  readonly sigmaPx: number;
  /** Beyond this an edge no longer shows. */
  readonly clearPx: number;
}

/** Edges wider than this against the optics' own belong to no crystal: a dried film, residue. */
const SOFT_EDGE = 2.2;
/** Spread inside a terrace over noise beyond which it is not even. */
const UNEVEN = 2;
/** Darker than this in every channel is dust, in its own shadow. */
const DARK = 0.88;
/** Terraces smaller than this, in samples, are not measured. */
const LEAST_SAMPLES = 9;
/** A component of which more than this share is no flake is none at all: residue has flat places too. */
const BAD_SHARE = 0.5;

/** The flake that a component is, if any, and what of it is none, each with its reason. */
export function detectionsOf(window: Window, division: Division, psf: PointSpread, pose: FramePose): readonly Detection[] {
  const measured = judge(
    division.regions
      .filter((r) => r.label > 0 && r.count >= LEAST_SAMPLES)
      .map((region) => {
        const terrace = measure(window, division, region, psf, pose);
        return { region, terrace, reject: rejectReason(terrace, region) };
      }),
  );
  const touches = touchesFrameEdge(window, pose);
  const good = measured.filter((m) => m.reject === undefined).sort((a, b) => b.region.count - a.region.count);
  const detections: Detection[] = [];
  if (good.length > 0) {
    const labels = new Set(good.map((g) => g.region.label));
    detections.push(asDetection(window, division, labels, good.map((g) => g.terrace), touches, pose));
  }
  for (const reason of new Set(measured.flatMap((m) => m.reject ?? []))) {
    const bad = measured.filter((m) => m.reject === reason);
    const labels = new Set(bad.map((b) => b.region.label));
    detections.push({ ...asDetection(window, division, labels, bad.map((b) => b.terrace), touches, pose), reject: reason });
  }
  return detections;
}

interface Judged {
  readonly region: Region;
  readonly terrace: MeasuredTerrace;
  readonly reject: RejectReason | undefined;
}

/** Residue and dried films are judged whole: where most of a component is no flake, its flat places are none either. */
function judge(measured: readonly Judged[]): readonly Judged[] {
  const isBad = (m: Judged): boolean => m.reject !== undefined && m.reject !== 'dark';
  const area = (of: readonly Judged[]): number => of.reduce((sum, m) => sum + m.region.count, 0);
  const bad = measured.filter(isBad);
  if (area(bad) <= BAD_SHARE * area(measured)) return measured;
  const reason = bad.reduce((worst, m) => (m.region.count > worst.region.count ? m : worst), bad[0] as Judged).reject;
  return measured.map((m) => ({ ...m, reject: m.reject ?? reason }));
}

function asDetection(
  window: Window, division: Division, labels: ReadonlySet<number>, terraces: readonly MeasuredTerrace[], touches: boolean, pose: FramePose,
): Detection {
  const outlineUm = outlineOf(window, division, (label) => labels.has(label), pose);
  return { terraces, outlineUm, areaUm2: terraces.reduce((sum, t) => sum + t.areaUm2, 0), touchesFrameEdge: touches };
}

function rejectReason(terrace: MeasuredTerrace, region: Region): RejectReason | undefined {
  if (terrace.contrast.every((c) => c > DARK)) return 'dark';
  if (terrace.edgeWidthRatio > SOFT_EDGE) return 'softEdge';
  if (region.coreCount >= 20 && terrace.unevenness > UNEVEN) return 'unevenInside';
  if (terrace.areaUm2 > 12 * terrace.inscribedUm * terrace.inscribedUm) return 'line';
  return undefined;
}

function measure(window: Window, division: Division, region: Region, psf: PointSpread, pose: FramePose): MeasuredTerrace {
  const areaPerSample = pixelAreaUm2(pose.cameraToStageUm);
  const { box } = region;
  const [boxWidth, boxHeight] = [box.colEnd - box.colFrom, box.rowEnd - box.rowFrom];
  const mask = new Uint8Array(boxWidth * boxHeight);
  let saturated = 0;
  forEachSample(window, division, region, (at, col, row) => {
    mask[(row - box.rowFrom) * boxWidth + col - box.colFrom] = 1;
    saturated += window.saturated[at] as number;
  });
  const circle = inscribedInMask(mask, boxWidth, boxHeight);
  return {
    outlineUm: outlineOf(window, division, (label) => label === region.label, pose),
    areaUm2: region.count * areaPerSample,
    contrast: region.mean,
    contrastError: region.mean.map((m, c) => {
      const noise = varianceAt(window.noise[c] as number, m) / region.coreCount;
      return Math.hypot(Math.sqrt(noise), (window.levelError[c] as number) * Math.abs(1 - m), 0.001);
    }),
    edgeWidthRatio: edgeWidthRatio(window, division, region.label, psf.sigmaPx),
    unevenness: unevenness(window, division, region),
    inscribedUm: 2 * circle.radiusPx * Math.sqrt(areaPerSample),
    inscribedCentreUm: pixelToStage(pose, { colPx: circle.colPx + window.colFrom + box.colFrom, rowPx: circle.rowPx + window.rowFrom + box.rowFrom }),
    saturatedShare: saturated / region.count,
  };
}

function touchesFrameEdge(window: Window, pose: FramePose): boolean {
  const { width, height, mask, colFrom, rowFrom } = window;
  const atEdge = (row: number, col: number): boolean => {
    const [r, c] = [row + rowFrom, col + colFrom];
    return mask[row * width + col] === 1 && (r === 0 || c === 0 || r === pose.heightPx - 1 || c === pose.widthPx - 1);
  };
  for (let row = 0; row < height; row++) if (atEdge(row, 0) || atEdge(row, width - 1)) return true;
  for (let col = 0; col < width; col++) if (atEdge(0, col) || atEdge(height - 1, col)) return true;
  return false;
}
