import type { StageBox, StagePoint } from '../units/index.ts';
import type { Group } from './gather.ts';
import { readingOf, wholeDetection, type KeptFlake, type Reading } from './kept.ts';
import { CLEARANCE_LIMIT_UM } from './shape/clearance.ts';
import { boxGapUm, isDirtReason } from './shape/neighbour.ts';
import type { Neighbour } from './shape/neighbour.ts';
import type { RejectReason } from './types.ts';

/** A scratch spoils a flake that it crosses, but nothing of it stands in a stamp's way. */
const FLAT: ReadonlySet<RejectReason> = new Set(['line']);
/** What is not on the chip at all. */
const NOT_THERE: ReadonlySet<RejectReason> = new Set(['sensorDust']);
/** A flake put together from several views may reach beyond their boxes by a step of the grid that it was drawn on, um. */
const MARGIN_UM = 10;

/**
 * What a flake's neighbourhood is judged by: every reject that is on the chip, and the thick terraces of every flake, as far off as
 * anything is looked for.
 * @param boxUm around the flake
 * @param layersTo terraces of more layers than this, and those too thick to count, are thick
 */
export function neighboursOf(boxUm: StageBox, groups: readonly Group[], flakes: ReadonlyMap<string, KeptFlake>, layersTo: number): readonly Neighbour[] {
  return groups.flatMap((group) => {
    const kept = boxGapUm(group.box, boxUm) < CLEARANCE_LIMIT_UM + MARGIN_UM ? flakes.get(group.id) : undefined;
    if (!kept) return [];
    const outlinesUm = wholeDetection(group.merged).terraces.map((t) => t.outlineUm);
    return neighbourOf(readingOf(kept), outlinesUm, group.box, layersTo) ?? [];
  });
}

/**
 * What one flake, or what was rejected as one, is to its neighbours; undefined when it is in nobody's way. The outlines are those of its
 * terraces; `boxUm` holds all of it.
 */
export function neighbourOf({ id, reject, terraces }: Reading, terraceOutlinesUm: readonly (readonly StagePoint[])[], boxUm: StageBox, layersTo: number): Neighbour | undefined {
  if (reject && NOT_THERE.has(reject)) return undefined;
  const isThick = ({ call }: Reading['terraces'][number]): boolean => call.layers === null || call.layers > layersTo;
  const outlinesUm = terraceOutlinesUm.filter((outline, i) => outline.length >= 3 && terraces[i] && (reject !== undefined || isThick(terraces[i])));
  if (outlinesUm.length === 0) return undefined;
  return { id, boxUm, outlinesUm, isDirt: isDirtReason(reject), stands: reject === undefined || !FLAT.has(reject) };
}
