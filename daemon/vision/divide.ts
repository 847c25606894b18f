import { findBasins } from './basins.ts';
import { gradientLevels } from './gradient.ts';
import { growSeeds } from './grow.ts';
import { describe, isRim, separation } from './regions.ts';
import type { Division, Region } from './regions.ts';
import { splitUneven } from './split.ts';
import type { Window } from './window.ts';

/** Neighbours whose means differ by less than this, squared in units of its error, are one terrace. */
const SAME_TERRACE = 9;
/** A region less deep than this (three samples across) is never a terrace. */
const LEAST_DEPTH = 2;
/** Rounds of splitting, dropping, growing and joining; the last two do not split. */
const ROUNDS = 6;
/** Up to this depth a region is suspected to be a blurred edge. */
const RIM_DEPTH = 2;

/**
 * Divides one component into regions of even contrast. Flat places are found first, the narrow ones that are only blurred edges are
 * dropped, the rest grow back into the edges, and neighbours of the same contrast join.
 * @param clearPx reach of the point spread in samples
 */
export function divide(window: Window, clearPx: number): Division {
  const basins = findBasins(window, gradientLevels(window));
  let division = describe(window, basins.labels, basins.count, clearPx);
  for (let round = 0; round < ROUNDS; round++) {
    const split = round < ROUNDS - 2 ? splitUneven(window, division) : undefined;
    if (!split && round >= 2) break;
    if (split) division = describe(window, split.labels, split.count, clearPx);
    const kept = division.regions.filter((r) => r.label > 0 && isPlateau(window, r, division.regions));
    const groups = joinSame(window, kept);
    division = regrow(window, division, groups, clearPx);
  }
  return division;
}

function isPlateau(window: Window, region: Region, regions: readonly Region[]): boolean {
  if (region.depth < LEAST_DEPTH) return false;
  return region.depth > RIM_DEPTH || !isRim(window, region, regions);
}

/** New label of every kept region, 1 upwards; regions that are the same terrace share one. */
function joinSame(window: Window, kept: readonly Region[]): ReadonlyMap<number, number> {
  const parent = new Map(kept.map((r) => [r.label, r.label]));
  const root = (label: number): number => {
    let at = label;
    for (let up = parent.get(at); up !== undefined && up !== at; up = parent.get(at)) at = up;
    return at;
  };
  for (const a of kept) {
    for (const b of kept) {
      if (a.label >= b.label || !a.neighbours.includes(b.label)) continue;
      if (separation(window, a, b) < SAME_TERRACE) parent.set(root(b.label), root(a.label));
    }
  }
  const labels = new Map<number, number>();
  const numbers = new Map<number, number>();
  for (const r of kept) {
    const top = root(r.label);
    const number = numbers.get(top) ?? numbers.size + 1;
    numbers.set(top, number);
    labels.set(r.label, number);
  }
  return labels;
}

function regrow(window: Window, division: Division, groups: ReadonlyMap<number, number>, clearPx: number): Division {
  const count = Math.max(0, ...groups.values());
  const seeds = new Int32Array(division.labels.length);
  for (const i of window.inside) {
    const label = division.labels[i] as number;
    const group = groups.get(label);
    const region = division.regions[label];
    seeds[i] = group !== undefined && region && (division.depth[i] as number) >= Math.min(region.coreDepth, Math.max(1, region.depth - 1)) ? group : -1;
  }
  const means = groupMeans(window, division, groups, count);
  growSeeds(window, seeds, means);
  for (const i of window.inside) if (seeds[i] === -1) seeds[i] = 0;
  return describe(window, seeds, count, clearPx);
}

function groupMeans(window: Window, division: Division, groups: ReadonlyMap<number, number>, count: number): readonly (readonly number[])[] {
  const sums = Array.from({ length: count + 1 }, () => window.noise.map(() => 0));
  const weights = new Float64Array(count + 1);
  for (const [label, group] of groups) {
    const region = division.regions[label];
    if (!region) continue;
    weights[group] = (weights[group] as number) + region.coreCount;
    const into = sums[group] as number[];
    region.mean.forEach((m, c) => (into[c] = (into[c] as number) + m * region.coreCount));
  }
  return sums.map((s, group) => s.map((v) => (group === 0 ? 0 : v / ((weights[group] as number) || 1))));
}
