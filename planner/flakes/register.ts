import { centroid } from '../geometry/polygon.ts';
import type { StagePoint } from '../units/index.ts';
import type { Detection } from './types.ts';
import type { View } from './view.ts';

/** A stage repeats to 1 to 3 um: what lies farther apart is not the same flake. */
const REACH_UM = 8;
/** The same flake's area in two frames differs by less than this share. */
const AREA_SHARE = 0.2;
/** Matches farther than this from the rest are false. */
const AGREE_UM = 1.2;

/** How far a tile lies from where the stage said, as its detections tell it. */
export interface TileOffset {
  readonly dxUm: number;
  readonly dyUm: number;
  /** Flakes that say so. */
  readonly matches: number;
}

/**
 * Registers a new tile on the tiles before it by the flakes that they have in common: whole in both frames, of the same size and near
 * each other. The offset that most of them agree on, averaged over those; none without a match.
 */
export function registerTile(detections: readonly Detection[], before: readonly View[]): TileOffset {
  const steps: { dxUm: number; dyUm: number; weight: number }[] = [];
  for (const detection of detections) {
    if (!isLandmark(detection)) continue;
    const here: StagePoint = centroid(detection.outlineUm);
    for (const view of before) {
      const step = stepTo(here, detection, view);
      if (step) steps.push(step);
    }
  }
  let best: typeof steps = [];
  let bestWeight = 0;
  for (const one of steps) {
    const agreeing = steps.filter((s) => Math.hypot(s.dxUm - one.dxUm, s.dyUm - one.dyUm) < AGREE_UM);
    const weight = agreeing.reduce((sum, s) => sum + s.weight, 0);
    if (weight > bestWeight) [best, bestWeight] = [agreeing, weight];
  }
  if (best.length === 0) return { dxUm: 0, dyUm: 0, matches: 0 };
  const mean = (of: (s: (typeof steps)[number]) => number): number => best.reduce((sum, s) => sum + s.weight * of(s), 0) / bestWeight;
  return { dxUm: mean((s) => s.dxUm), dyUm: mean((s) => s.dyUm), matches: best.length };
}

function isLandmark(detection: Detection): boolean {
  return !detection.touchesFrameEdge && (detection.reject === undefined || detection.reject === 'dark') && detection.outlineUm.length >= 3;
}

function stepTo(here: StagePoint, detection: Detection, view: View): { dxUm: number; dyUm: number; weight: number } | undefined {
  const { box } = view;
  const far = here.xUm < box.xMinUm - REACH_UM || here.xUm > box.xMaxUm + REACH_UM || here.yUm < box.yMinUm - REACH_UM || here.yUm > box.yMaxUm + REACH_UM;
  if (far || !isLandmark(view.detection)) return undefined;
  const ratio = detection.areaUm2 / view.detection.areaUm2;
  if (ratio < 1 - AREA_SHARE || ratio > 1 / (1 - AREA_SHARE)) return undefined;
  const there: StagePoint = centroid(view.detection.outlineUm);
  const [dxUm, dyUm] = [there.xUm - here.xUm, there.yUm - here.yUm];
  if (Math.hypot(dxUm, dyUm) > REACH_UM) return undefined;
  return { dxUm, dyUm, weight: Math.sqrt(detection.areaUm2) };
}
