import type { Division } from './regions.ts';
import { median } from './statistics.ts';
import type { Window } from './window.ts';

/** Variance that averaging over 3x3 adds to an edge, in squared samples: that of a box of 3. */
const BOX_VARIANCE = 2 / 3;
/** A profile shorter than this on either side says nothing. */
const LEAST_REACH = 2;
/** As many profiles say what the edge is like. */
const PROFILES_MOST = 400;

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
  const { labels, regions } = division;
  const box = regions[label]?.box ?? { colFrom: 0, colEnd: 0, rowFrom: 0, rowEnd: 0 };
  const project = projector(window, division);
  for (let row = Math.max(0, box.rowFrom - 1); row < box.rowEnd; row++) {
    for (let col = Math.max(0, box.colFrom - 1); col < box.colEnd; col++) {
      const at = row * width + col;
      const here = labels[at] as number;
      if (col + 1 < width && isBorder(here, labels[at + 1] as number, label)) addProfile(window, division, project, at, 1, Math.min(reach, col + 1, width - 1 - col), found);
      if (row + 1 < height && isBorder(here, labels[at + width] as number, label)) addProfile(window, division, project, at, width, Math.min(reach, row + 1, height - 1 - row), found);
    }
    if (found.length > PROFILES_MOST) break;
  }
  const expected = Math.sqrt((psfPx * psfPx + BOX_VARIANCE) / Math.PI);
  return found.length === 0 ? 1 : median(Float32Array.from(found)) / expected;
}

function isBorder(here: number, there: number, label: number): boolean {
  return here !== there && (here === label || there === label);
}

/** One profile across the border between the samples `at` and `at + stride`. */
function addProfile(window: Window, division: Division, project: Projector, at: number, stride: number, reach: number, found: number[]): void {
  const { labels } = division;
  const here = labels[at] as number;
  const there = labels[at + stride] as number;
  if (window.foreign[at] === 1 || window.foreign[at + stride] === 1) return;
  const lean = directionCosine(window, project.weights(here, there), at, stride);
  if (lean < 0.7) return;
  let back = 0;
  while (back < reach && labels[at - back * stride] === here) back++;
  let ahead = 0;
  while (ahead < reach && labels[at + (ahead + 1) * stride] === there) ahead++;
  if (back < LEAST_REACH || ahead < LEAST_REACH) return;
  let sum = 0;
  for (let i = -back + 1; i <= ahead; i++) {
    const p = project.share(here, there, at + i * stride);
    sum += p * (1 - p);
  }
  found.push(Math.max(0, sum) * lean);
}

/** Tells where a sample lies between the contrasts of two regions: 0 at the first, 1 at the second, by its 3x3 mean. */
export interface Projector {
  /** Weights of the channels, best against noise. */
  weights(from: number, to: number): Float64Array;
  share(from: number, to: number, at: number): number;
}

export function projector(window: Window, division: Division): Projector {
  const count = division.regions.length;
  const known = new Map<number, Float64Array>();
  const weights = (from: number, to: number): Float64Array => {
    const key = from * count + to;
    const kept = known.get(key);
    if (kept) return kept;
    const made = projection(window, division.regions[from]?.mean ?? [], division.regions[to]?.mean ?? []);
    known.set(key, made);
    return made;
  };
  const share = (from: number, to: number, at: number): number => {
    const w = weights(from, to);
    const n = window.smooth.length;
    let p = w[n] as number;
    for (let c = 0; c < n; c++) p += (w[c] as number) * ((window.smooth[c] as Float32Array)[at] as number);
    return p;
  };
  return { weights, share };
}

/** Weights per channel, and last the constant that makes the first contrast 0. */
function projection(window: Window, from: readonly number[], to: readonly number[]): Float64Array {
  const n = window.noise.length;
  const weights = new Float64Array(n + 1);
  let length = 0;
  for (let c = 0; c < n; c++) {
    const step = (to[c] ?? 0) - (from[c] ?? 0);
    weights[c] = step / (window.noise[c] as number) ** 2;
    length += (weights[c] as number) * step;
  }
  for (let c = 0; c < n; c++) {
    weights[c] = (weights[c] as number) / Math.max(length, 1e-12);
    weights[n] = (weights[n] as number) - (weights[c] as number) * (from[c] ?? 0);
  }
  return weights;
}

/** Cosine between the way across the border and the steepest way, from the 3x3 means around it. */
function directionCosine(window: Window, weights: Float64Array, at: number, stride: number): number {
  const { width, smooth } = window;
  const across = stride === 1 ? width : 1;
  let along = 0;
  let aside = 0;
  const last = (smooth[0] as Float32Array).length - 1;
  for (let c = 0; c < smooth.length; c++) {
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
