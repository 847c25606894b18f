import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { strongestEdges } from '../../planner/focus/texture.ts';
import { boundingBox } from '../../planner/geometry/polygon.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import { distanceUm, pixelToStage, type FramePose, type StagePoint } from '../../planner/units/index.ts';
import type { NightContext } from './context.ts';
import { samplesOf, type FramePlace } from './focusMeasure.ts';
import type { FocusPlace } from './focusPoint.ts';

/** Where to look next when a place shows nothing: shares of the field, to the sides. */
const neighbours: readonly (readonly [number, number])[] = [[0.6, 0], [-0.6, 0], [0, 0.6], [0, -0.6], [1.5, 1.5], [-1.5, -1.5], [-1.5, 1.5], [1.5, -1.5]];
/** Something seen is gone back to within so many diagonals of the field; farther away it tells less of this place than the ones beside it. */
const nearbyDiagonals = 1;
/** Places kept: the oldest are forgotten. */
const mostSeen = 64;

/** Where frames already taken have shown something to focus on, flakes above all. */
export class SeenPlaces {
  private readonly places: StagePoint[] = [];

  /** Keeps where the strongest edges of a frame lie, if it has any. */
  add(frame: CameraFrame, pose: FramePose): void {
    const edges = edgesOf(frame);
    if (!edges) return;
    this.places.push(pixelToStage(pose, { colPx: edges.right * pose.widthPx, rowPx: edges.down * pose.heightPx }));
    if (this.places.length > mostSeen) this.places.shift();
  }

  /** The nearest one to a place that lies within a distance of it, and not within that distance of what is measured already. */
  near(at: StagePoint, withinUm: number, measuredUm: readonly StagePoint[]): StagePoint | undefined {
    const away = (place: StagePoint): number => distanceUm(place, at);
    const open = this.places.filter((place) => away(place) <= withinUm && measuredUm.every((other) => distanceUm(other, place) > withinUm));
    return open.reduce<StagePoint | undefined>((best, place) => (!best || away(place) < away(best) ? place : best), undefined);
  }
}

/** The middle of the strongest edges in a frame, but for some places of it. */
export function edgesOf(frame: CameraFrame, except: readonly FramePlace[] = []): FramePlace | undefined {
  return strongestEdges(samplesOf(frame), except);
}

/**
 * Where to look instead of a place without texture, best first: what frames already taken have shown nearby, the places beside it, and the
 * chip's edge, which always shows. All on the chip and within the stage's reach.
 */
export function otherPlaces(context: Pick<NightContext, 'plan' | 'config' | 'travel'>, chip: PlannedChip, at: StagePoint, seen: SeenPlaces, measuredUm: readonly StagePoint[]): readonly FocusPlace[] {
  const { fieldWidthUm, fieldHeightUm } = context.plan;
  const flake = seen.near(at, nearbyDiagonals * Math.hypot(fieldWidthUm, fieldHeightUm), measuredUm);
  const beside = neighbours.map(([right, up]) => ({ xUm: at.xUm + right * fieldWidthUm, yUm: at.yUm + up * fieldHeightUm })).filter((place) => isOnChip(place, chip));
  return [...(flake ? [flake] : []), ...beside, nearestOnEdge(chip.outlineUm, at)].filter((place) => isReachable(context, place)).map((standUm) => ({ standUm }));
}

/** Within the box of what is scanned. */
function isOnChip({ xUm, yUm }: StagePoint, chip: PlannedChip): boolean {
  const box = boundingBox(chip.scannedUm);
  return xUm >= box.xMinUm && xUm <= box.xMaxUm && yUm >= box.yMinUm && yUm <= box.yMaxUm;
}

/** Within the soft limits, with room for taking up the slack. */
function isReachable({ config: { limits }, travel }: Pick<NightContext, 'config' | 'travel'>, { xUm, yUm }: StagePoint): boolean {
  const rimUm = 2 * travel.backlashUm;
  return xUm >= limits.xMinUm + rimUm && xUm <= limits.xMaxUm - rimUm && yUm >= limits.yMinUm + rimUm && yUm <= limits.yMaxUm - rimUm;
}

function nearestOnEdge(outlineUm: readonly StagePoint[], at: StagePoint): StagePoint {
  return outlineUm.reduce<StagePoint>((best, from, i) => {
    const to = outlineUm[(i + 1) % outlineUm.length] ?? from;
    const [dx, dy] = [to.xUm - from.xUm, to.yUm - from.yUm];
    const along = ((at.xUm - from.xUm) * dx + (at.yUm - from.yUm) * dy) / (dx * dx + dy * dy || 1);
    const share = Math.min(0.9, Math.max(0.1, along));
    const place = { xUm: from.xUm + share * dx, yUm: from.yUm + share * dy };
    return distanceUm(place, at) < distanceUm(best, at) ? place : best;
  }, { xUm: Infinity, yUm: Infinity });
}
