import { depthMap } from './depth.ts';
import { varianceAt } from './noise.ts';
import type { Window } from './window.ts';

/** One region of a window as far as it is known while the division is being settled. */
export interface Region {
  readonly label: number;
  readonly count: number;
  /** Widest chessboard depth: a region of depth d is at least 2 d - 1 samples across somewhere. */
  readonly depth: number;
  /** Mean contrast over its inner samples. */
  readonly mean: readonly number[];
  /** Inner samples: those clear of the point spread where there are enough, else the deepest. */
  readonly coreDepth: number;
  readonly coreCount: number;
  /** Regions that touch it, 0 for the substrate. */
  readonly neighbours: readonly number[];
  /** The samples it lies within. */
  readonly box: Box;
}

/** Columns and rows of a window; the ends are beyond the last. */
export interface Box {
  readonly colFrom: number;
  readonly colEnd: number;
  readonly rowFrom: number;
  readonly rowEnd: number;
}

export interface Division {
  readonly labels: Int32Array;
  readonly depth: Int32Array;
  /** Index is the label; entry 0 is the substrate. */
  readonly regions: readonly Region[];
}

/** A core of at least this many samples is measured alone. */
const CORE_LEAST = 9;

/** Statistics of every region of a window; labels are 1 to `count`, 0 is substrate. `clearPx` is the reach of the point spread. */
export function describe(window: Window, labels: Int32Array, count: number, clearPx: number): Division {
  const depth = depthMap(labels, window.inside, window.width, window.height);
  const histogram = depthHistogram(window, labels, depth, count, clearPx + 1);
  const boxes = boxesOf(window, labels, count);
  const touching = neighbourSets(window, labels, count);
  const coreDepths = histogram.map((counts) => coreDepthOf(counts, clearPx + 1));
  const sums = coreSums(window, labels, depth, coreDepths, count);
  const regions = coreDepths.map((coreDepth, label): Region => {
    const counts = histogram[label] as Int32Array;
    const coreCount = (sums.counts[label] as number) || 1;
    return {
      label,
      count: counts.reduce((sum, n) => sum + n, 0),
      depth: sums.deepest[label] as number,
      mean: window.planes.map((_, c) => (label === 0 ? 0 : ((sums.planes[c] as Float64Array)[label] as number) / coreCount)),
      coreDepth,
      coreCount,
      neighbours: [...(touching[label] as Set<number>)].sort((a, b) => a - b),
      box: boxes[label] as Box,
    };
  });
  return { labels, depth, regions };
}

function boxesOf(window: Window, labels: Int32Array, count: number): readonly Box[] {
  const edges = new Int32Array(4 * (count + 1));
  for (let label = 0; label <= count; label++) edges.set([window.width, 0, window.height, 0], 4 * label);
  for (const at of window.inside) {
    const e = 4 * (labels[at] as number);
    if (e === 0) continue;
    const col = at % window.width;
    const row = (at - col) / window.width;
    if (col < (edges[e] as number)) edges[e] = col;
    if (col >= (edges[e + 1] as number)) edges[e + 1] = col + 1;
    if (row < (edges[e + 2] as number)) edges[e + 2] = row;
    edges[e + 3] = row + 1;
  }
  return Array.from({ length: count + 1 }, (_, label) => {
    const [colFrom = 0, colEnd = 0, rowFrom = 0, rowEnd = 0] = edges.subarray(4 * label, 4 * label + 4);
    return { colFrom, colEnd, rowFrom, rowEnd };
  });
}

/** How many samples of each label lie at depth 1, 2, ... up to `levels`; the last entry takes all deeper ones. */
function depthHistogram(window: Window, labels: Int32Array, depth: Int32Array, count: number, levels: number): readonly Int32Array[] {
  const histogram = Array.from({ length: count + 1 }, () => new Int32Array(levels + 1));
  for (const at of window.inside) {
    const label = labels[at] as number;
    if (label === 0) continue;
    const counts = histogram[label] as Int32Array;
    const d = Math.min(levels, depth[at] as number);
    counts[d] = (counts[d] as number) + 1;
  }
  return histogram;
}

function coreDepthOf(counts: Int32Array, levels: number): number {
  let inner = 0;
  for (let d = levels; d > 1; d--) {
    inner += counts[d] as number;
    if (inner >= CORE_LEAST) return d;
  }
  return 1;
}

interface CoreSums {
  readonly planes: readonly Float64Array[];
  readonly counts: Int32Array;
  readonly deepest: Int32Array;
}

function coreSums(window: Window, labels: Int32Array, depth: Int32Array, coreDepths: readonly number[], count: number): CoreSums {
  const planes = window.planes.map(() => new Float64Array(count + 1));
  const counts = new Int32Array(count + 1);
  const deepest = new Int32Array(count + 1);
  for (const i of window.inside) {
    const label = labels[i] as number;
    const d = depth[i] as number;
    if (label === 0) continue;
    if (d > (deepest[label] as number)) deepest[label] = d;
    if (d < (coreDepths[label] as number)) continue;
    counts[label] = (counts[label] as number) + 1;
    for (let c = 0; c < planes.length; c++) {
      const sums = planes[c] as Float64Array;
      sums[label] = (sums[label] as number) + ((window.planes[c] as Float32Array)[i] as number);
    }
  }
  return { planes, counts, deepest };
}

function neighbourSets(window: Window, labels: Int32Array, count: number): readonly Set<number>[] {
  const { width } = window;
  const last = labels.length - width;
  const sets = Array.from({ length: count + 1 }, () => new Set<number>());
  for (const at of window.inside) {
    const here = labels[at] as number;
    const col = at % width;
    if (col > 0) touch(sets, here, labels[at - 1] as number);
    if (col + 1 < width) touch(sets, here, labels[at + 1] as number);
    if (at >= width) touch(sets, here, labels[at - width] as number);
    if (at < last) touch(sets, here, labels[at + width] as number);
  }
  return sets;
}

function touch(sets: readonly Set<number>[], a: number, b: number): void {
  if (a === b) return;
  sets[a]?.add(b);
  sets[b]?.add(a);
}

/** Error of a region's mean that is not noise: what is left of the point spread, and the local level. */
function floorAt(contrast: number): number {
  return 0.008 + 0.01 * Math.abs(contrast);
}

/** Squared distance of two regions' means in units of its own error, summed over channels. */
export function separation(window: Window, a: Region, b: Region): number {
  let sum = 0;
  for (let c = 0; c < window.noise.length; c++) {
    const [p, q] = [a.mean[c] as number, b.mean[c] as number];
    const variance = varianceAt(window.noise[c] as number, (p + q) / 2) * (1 / a.coreCount + 1 / b.coreCount);
    sum += ((p - q) * (p - q)) / (variance + floorAt((p + q) / 2) ** 2);
  }
  return sum;
}

/**
 * Whether a narrow region is only the blurred edge between two others (or one and the substrate): its contrast lies on the straight
 * line between theirs.
 */
export function isRim(window: Window, region: Region, regions: readonly Region[]): boolean {
  const sides = region.neighbours.flatMap((n) => regions[n] ?? []);
  for (const a of sides) {
    for (const b of sides) {
      if (a.label >= b.label) continue;
      if (liesBetween(window, region, a, b)) return true;
    }
  }
  return false;
}

function liesBetween(window: Window, region: Region, a: Region, b: Region): boolean {
  let along = 0;
  let length = 0;
  for (let c = 0; c < window.noise.length; c++) {
    const weight = 1 / (window.noise[c] as number) ** 2;
    const step = (b.mean[c] as number) - (a.mean[c] as number);
    along += weight * step * ((region.mean[c] as number) - (a.mean[c] as number));
    length += weight * step * step;
  }
  if (length === 0) return false;
  const share = along / length;
  if (share < 0.05 || share > 0.95) return false;
  let off = 0;
  for (let c = 0; c < window.noise.length; c++) {
    const on = (a.mean[c] as number) + share * ((b.mean[c] as number) - (a.mean[c] as number));
    const variance = varianceAt(window.noise[c] as number, on) / region.coreCount + floorAt(on) ** 2;
    off += ((region.mean[c] as number) - on) ** 2 / variance;
  }
  return off < 16;
}
