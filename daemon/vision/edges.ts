import type { Division } from './regions.ts';
import { median } from './statistics.ts';
import type { Window } from './window.ts';

/** Variance that averaging over 3x3 adds to an edge, in squared samples: that of a box of 3. */
const BOX_VARIANCE = 2 / 3;
/** A profile shorter than this on either side says nothing. */
const LEAST_REACH = 2;

/**
 * Width of the edges of a region against what the optics would make of a step: 1 is as sharp as can be. At every place where the edge
 * runs across a row or column, p goes from 0 to 1 along it and the integral of p (1 - p) is taken; for a step blurred by a Gaussian of
 * sigma it is sigma / sqrt(pi). The median over the edge is compared with that of the point spread.
 * @param psfPx sigma of the point spread, pixel included, in samples
 */
export function edgeWidthRatio(window: Window, division: Division, label: number, psfPx: number): number {
  const reach = Math.ceil(8 * Math.max(1, psfPx));
  const found: number[] = [];
  const { width, height } = window;
  const box = division.regions[label]?.box ?? { colFrom: 0, colEnd: 0, rowFrom: 0, rowEnd: 0 };
  for (let row = Math.max(0, box.rowFrom - 1); row < box.rowEnd; row++) {
    for (let col = Math.max(0, box.colFrom - 1); col < box.colEnd; col++) {
      const at = row * width + col;
      const here = division.labels[at] as number;
      if (col + 1 < width) addProfile(window, division, label, here, at, 1, Math.min(reach, col + 1, width - 1 - col), found);
      if (row + 1 < height) addProfile(window, division, label, here, at, width, Math.min(reach, row + 1, height - 1 - row), found);
    }
  }
  const expected = Math.sqrt((psfPx * psfPx + BOX_VARIANCE) / Math.PI);
  return found.length === 0 ? 1 : median(Float32Array.from(found)) / expected;
}

/** One profile across the border between the samples `at` and `at + stride`, if that border belongs to the region. */
function addProfile(window: Window, division: Division, label: number, here: number, at: number, stride: number, reach: number, found: number[]): void {
  const { labels, regions } = division;
  const there = labels[at + stride] as number;
  if (here === there || (here !== label && there !== label)) return;
  if (window.foreign[at] === 1 || window.foreign[at + stride] === 1) return;
  const from = regions[here]?.mean;
  const to = regions[there]?.mean;
  if (!from || !to) return;
  const weights = projection(window, from, to);
  const lean = directionCosine(window, weights, at, stride);
  if (lean < 0.7) return;
  let back = 0;
  while (back < reach && labels[at - back * stride] === here) back++;
  let ahead = 0;
  while (ahead < reach && labels[at + (ahead + 1) * stride] === there) ahead++;
  if (back < LEAST_REACH || ahead < LEAST_REACH) return;
  let sum = 0;
  for (let i = -back + 1; i <= ahead; i++) {
    const p = project(window, weights, from, at + i * stride);
    sum += p * (1 - p);
  }
  found.push(Math.max(0, sum) * lean);
}

/** Weights that turn a contrast difference into 0 at `from` and 1 at `to`, best against noise. */
export function projection(window: Window, from: readonly number[], to: readonly number[]): readonly number[] {
  let length = 0;
  const weights = from.map((f, c) => {
    const step = (to[c] as number) - f;
    const weight = step / (window.noise[c] as number) ** 2;
    length += weight * step;
    return weight;
  });
  return weights.map((w) => w / Math.max(length, 1e-12));
}

/** Where a sample's 3x3 mean lies between two contrasts. */
export function project(window: Window, weights: readonly number[], from: readonly number[], at: number): number {
  let p = 0;
  for (let c = 0; c < weights.length; c++) p += (weights[c] as number) * (((window.smooth[c] as Float32Array)[at] as number) - (from[c] as number));
  return p;
}

/** Cosine between the way across the border and the steepest way, from the 3x3 means around it. */
function directionCosine(window: Window, weights: readonly number[], at: number, stride: number): number {
  const { width, smooth } = window;
  const across = stride === 1 ? width : 1;
  let along = 0;
  let aside = 0;
  const last = (smooth[0] as Float32Array).length - 1;
  for (let c = 0; c < weights.length; c++) {
    const plane = smooth[c] as Float32Array;
    const w = weights[c] as number;
    along += w * ((plane[at + stride] as number) - (plane[at] as number)) * 2;
    const [before, after] = [Math.max(0, at - across), Math.min(last, at + across)];
    const [beforeNext, afterNext] = [Math.max(0, at + stride - across), Math.min(last, at + stride + across)];
    aside += (w * ((plane[after] as number) - (plane[before] as number) + (plane[afterNext] as number) - (plane[beforeNext] as number))) / 2;
  }
  const length = Math.hypot(along, aside);
  return length === 0 ? 0 : Math.abs(along) / length;
}
