import { centroid } from '../geometry/polygon.ts';
import { distanceUm, type StageBox } from '../units/index.ts';
import { keepDetection, wholeDetection, type KeptDetection } from './kept.ts';
import { boxAround } from './raster.ts';
import type { RejectReason } from './types.ts';
import { uniteViews } from './unite.ts';
import type { TileOffset } from './register.ts';
import { moveView, sharedShare } from './view.ts';
import type { View } from './view.ts';

/** All views of one flake (or of one thing that is none), and the flake put together from them. */
export interface Group {
  readonly id: string;
  /** In tile order. */
  readonly views: readonly View[];
  readonly merged: KeptDetection;
  readonly bestTile: number;
  /** A box around all views: it may be wider than what is left of them, never narrower. */
  readonly box: StageBox;
}

export interface Gathered {
  readonly groups: readonly Group[];
  readonly changed: readonly Group[];
  readonly removed: readonly string[];
  readonly next: number;
}

/** Views that cover each other by more than this in their common field show the same thing. */
const SAME_SHARE = 0.35;

/**
 * Joins a tile's views to the groups that show the same thing. A view that bridges two groups makes them one, under the older id. What
 * is no flake joins only what is none, unless one whole view says so of a part that the frame's edge cut off.
 */
export function gather(before: readonly Group[], views: readonly View[], firstNew: number, chip: string): Gathered {
  let groups = [...before];
  let next = firstNew;
  const touched = new Set<string>();
  const removed: string[] = [];
  for (const view of views) {
    const [home, ...others] = groups.filter((g) => meet(g.box, view.box) && g.views.some((v) => sameThing(v, view)));
    if (!home) {
      const id = `${chip}-${String(next++)}`;
      groups.push(makeGroup(id, [view]));
      touched.add(id);
      continue;
    }
    const joined = makeGroup(home.id, [...home.views, ...others.flatMap((o) => o.views), view]);
    const gone = new Set(others.map((o) => o.id));
    removed.push(...gone);
    touched.add(home.id);
    groups = groups.filter((g) => !gone.has(g.id)).map((g) => (g.id === home.id ? joined : g));
  }
  return { groups, changed: groups.filter((g) => touched.has(g.id)), removed, next };
}

function meet(a: StageBox, b: StageBox): boolean {
  return a.xMaxUm >= b.xMinUm && b.xMaxUm >= a.xMinUm && a.yMaxUm >= b.yMinUm && b.yMaxUm >= a.yMinUm;
}

function sameThing(a: View, b: View): boolean {
  if (a.tile === b.tile || !meet(a.box, b.box)) return false;
  // What lies beyond the chip goes round it: put together, its outline would enclose all that is on it.
  if (a.detection.reject === 'chipEdge' || b.detection.reject === 'chipEdge') return false;
  const [flakeA, flakeB] = [a.detection.reject === undefined, b.detection.reject === undefined];
  if (flakeA !== flakeB && !mayOverrule(a, b)) return false;
  return sharedShare(a, b) > SAME_SHARE;
}

/** One view calls it a flake and the other does not: they are only joined when one is cut off by its frame's edge and both are of a size. */
function mayOverrule(a: View, b: View): boolean {
  const cut = a.detection.touchesFrameEdge !== b.detection.touchesFrameEdge;
  const [whole, part] = a.detection.touchesFrameEdge ? [b, a] : [a, b];
  return cut && part.detection.areaUm2 < 1.3 * whole.detection.areaUm2;
}

function makeGroup(id: string, views: readonly View[]): Group {
  const sorted = [...views].sort((a, b) => a.tile - b.tile);
  const box = boxAround(sorted.map((v) => v.box));
  const whole = sorted.filter((v) => !v.detection.touchesFrameEdge);
  if (whole.length === 0) {
    const largest = sorted.reduce((best, v) => (v.detection.areaUm2 > best.detection.areaUm2 ? v : best));
    const rejected = sorted.find((v) => v.detection.reject !== undefined);
    return { id, views: sorted, merged: united(sorted, rejected?.detection.reject), bestTile: largest.tile, box };
  }
  const best = whole.reduce((one, v) => (merit(v) > merit(one) ? v : one));
  return { id, views: sorted, merged: best.detection, bestTile: best.tile, box };
}

function united(views: readonly View[], reject: RejectReason | undefined): KeptDetection {
  const [only] = views;
  if (views.length === 1 && only) return only.detection;
  const merged = uniteViews(views.map(({ detection }) => wholeDetection(detection)));
  return keepDetection(reject ? { ...merged, reject } : merged);
}

/** A group whose tiles have been moved. */
export function moveGroup(group: Group, moves: ReadonlyMap<number, TileOffset>): Group {
  const still = group.views.every((v) => Math.hypot(moves.get(v.tile)?.dxUm ?? 0, moves.get(v.tile)?.dyUm ?? 0) < 1e-6);
  if (still) return group;
  return makeGroup(group.id, group.views.map((v) => moveView(v, moves.get(v.tile)?.dxUm ?? 0, moves.get(v.tile)?.dyUm ?? 0)));
}

/** Which whole view to believe: the one that shows most of the flake, and of equal ones that nearer to its frame's centre, where optics are best. */
function merit(view: View): number {
  const at = centroid(wholeDetection(view.detection).outlineUm);
  const middle = centroid(view.fieldUm);
  const [corner] = view.fieldUm;
  const share = corner ? distanceUm(at, middle) / Math.max(distanceUm(corner, middle), 1e-9) : 0;
  return view.detection.areaUm2 * (1 - 0.08 * share);
}
