import { labelComponents } from './components.ts';
import { forEachSample, unevenness } from './uneven.ts';
import type { Division, Region } from './regions.ts';
import type { Window } from './window.ts';

/** A region more uneven than this may be two terraces that ran together. */
const SUSPECT = 1.35;
/** Smaller regions have no room for two; larger ones show the step between them by their gradient. */
const LEAST_SAMPLES = 20;
const MOST_SAMPLES = 4000;
/** A component of more regions is residue: every part of it is uneven. */
const MOST_REGIONS = 14;
/** A part smaller than this is noise. */
const LEAST_PART = 7;

export interface SplitLabels {
  readonly labels: Int32Array;
  readonly count: number;
}

/**
 * Splits regions that are uneven inside by their own contrast: two means along the direction in which the samples spread most.
 * What was one terrace after all is joined again by its means. Undefined when there was nothing to split.
 */
export function splitUneven(window: Window, division: Division): SplitLabels | undefined {
  if (division.regions.length > MOST_REGIONS) return undefined;
  const suspects = division.regions.filter(
    (r) => r.label > 0 && r.count >= LEAST_SAMPLES && r.count <= MOST_SAMPLES && unevenness(window, division, r) > SUSPECT,
  );
  if (suspects.length === 0) return undefined;
  const labels = Int32Array.from(division.labels);
  let count = division.regions.length - 1;
  for (const region of suspects) count += splitRegion(window, division, region, labels, count);
  return { labels, count };
}

/** Gives the brighter class new labels, one for each connected part, and returns how many. */
function splitRegion(window: Window, division: Division, region: Region, labels: Int32Array, lastLabel: number): number {
  const { box } = region;
  const [width, height] = [box.colEnd - box.colFrom, box.rowEnd - box.rowFrom];
  const direction = spreadDirection(window, division, region);
  const values = new Float32Array(region.count);
  let n = 0;
  forEachSample(window, division, region, (at) => (values[n++] = along(window, direction, at)));
  const limit = twoMeansLimit(values);
  const mask = new Uint8Array(width * height);
  n = 0;
  forEachSample(window, division, region, (_, col, row) => {
    if ((values[n++] as number) > limit) mask[(row - box.rowFrom) * width + col - box.colFrom] = 1;
  });
  const parts = labelComponents(mask, width, height);
  const numbers = new Map<number, number>();
  for (const part of parts.components) if (part.count >= LEAST_PART) numbers.set(part.label, lastLabel + numbers.size + 1);
  forEachSample(window, division, region, (at, col, row) => {
    const number = numbers.get(parts.labels[(row - box.rowFrom) * width + col - box.colFrom] as number);
    if (number !== undefined) labels[at] = number;
  });
  return numbers.size;
}

/** Where a sample's 3x3 mean lies along a direction. */
function along(window: Window, direction: readonly number[], at: number): number {
  return direction.reduce((sum, d, c) => sum + d * ((window.smooth[c] as Float32Array)[at] as number), 0);
}

/** Direction of the largest spread in units of noise, by power iteration on the covariance, as weights for the contrast. */
function spreadDirection(window: Window, division: Division, region: Region): readonly number[] {
  const { noise } = window;
  const n = noise.length;
  const covariance = new Float64Array(n * n);
  const off = new Float64Array(n);
  forEachSample(window, division, region, (at) => {
    for (let c = 0; c < n; c++) off[c] = (((window.smooth[c] as Float32Array)[at] as number) - (region.mean[c] as number)) / (noise[c] as number);
    for (let i = 0; i < n * n; i++) covariance[i] = (covariance[i] as number) + (off[Math.floor(i / n)] as number) * (off[i % n] as number);
  });
  let direction: readonly number[] = noise.map((_, c) => (c === 0 ? 1 : 0.5));
  for (let round = 0; round < 12; round++) {
    const next = noise.map((_, row) => direction.reduce((sum, d, c) => sum + (covariance[row * n + c] as number) * d, 0));
    const norm = Math.hypot(...next) || 1;
    direction = next.map((v) => v / norm);
  }
  return direction.map((d, c) => d / (noise[c] as number));
}

/** The limit half way between the means of the two classes that it makes. */
function twoMeansLimit(values: Float32Array): number {
  let limit = values.reduce((sum, v) => sum + v, 0) / values.length;
  for (let round = 0; round < 20; round++) {
    let [low, lows, high, highs] = [0, 0, 0, 0];
    for (const v of values) {
      if (v > limit) [high, highs] = [high + v, highs + 1];
      else [low, lows] = [low + v, lows + 1];
    }
    if (lows === 0 || highs === 0) return limit;
    const next = (low / lows + high / highs) / 2;
    if (Math.abs(next - limit) < 1e-6) return next;
    limit = next;
  }
  return limit;
}
