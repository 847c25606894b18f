import type { StageBox } from '../units/index.ts';
import type { Group } from './gather.ts';
import { isDirtReason } from './shape/neighbour.ts';
import type { Neighbour } from './shape/neighbour.ts';
import type { Flake, RejectReason, Terrace } from './types.ts';

/** A scratch spoils a flake that it crosses, but nothing of it stands in a stamp's way. */
const FLAT: ReadonlySet<RejectReason> = new Set(['line']);
/** What is not on the chip at all. */
const NOT_THERE: ReadonlySet<RejectReason> = new Set(['sensorDust']);

/**
 * What a flake's neighbourhood is judged by: every reject that is on the chip, and the thick terraces of every flake.
 * @param layersTo terraces of more layers than this, and those too thick to count, are thick
 */
export function neighboursOf(groups: readonly Group[], flakes: ReadonlyMap<string, Flake>, layersTo: number): readonly Neighbour[] {
  return groups.flatMap((group) => {
    const flake = flakes.get(group.id);
    return (flake && neighbourOf(flake, boxOfGroup(group), layersTo)) ?? [];
  });
}

/** What one flake, or what was rejected as one, is to its neighbours; undefined when it is in nobody's way. `boxUm` holds all of it. */
export function neighbourOf(flake: Flake, boxUm: StageBox, layersTo: number): Neighbour | undefined {
  const { id, reject } = flake;
  if (reject && NOT_THERE.has(reject)) return undefined;
  const isThick = (t: Terrace): boolean => t.call.layers === null || t.call.layers > layersTo;
  const outlinesUm = flake.terraces.filter((t) => reject !== undefined || isThick(t)).map((t) => t.outlineUm).filter((outline) => outline.length >= 3);
  if (outlinesUm.length === 0) return undefined;
  return { id, boxUm, outlinesUm, isDirt: isDirtReason(reject), stands: reject === undefined || !FLAT.has(reject) };
}

/** A box around all views of a group: it may be wider than what is left of them, never narrower. */
function boxOfGroup(group: Group): StageBox {
  const boxes = group.views.map((v) => v.box);
  return {
    xMinUm: Math.min(...boxes.map((b) => b.xMinUm)),
    xMaxUm: Math.max(...boxes.map((b) => b.xMaxUm)),
    yMinUm: Math.min(...boxes.map((b) => b.yMinUm)),
    yMaxUm: Math.max(...boxes.map((b) => b.yMaxUm)),
  };
}
