import type { Division } from './regions.ts';
import { median } from './statistics.ts';
import type { Window } from './window.ts';

/**
 * Variance that the measurement itself adds to an edge, in squared samples: a box of 3 for the 3x3 mean, and one of 2 for the
 * difference across two samples.
 */
const OWN_VARIANCE = 2 / 3 + 1 / 3;
/** A ramp ends where the slope has fallen to this share of its steepest. */
const RAMP_END = 0.35;
/**
 * Length of a ramp over its steepest slope, for an edge blurred by a Gaussian of sigma 1: sqrt(2 pi) times the share of a Gaussian
 * within the places where it is above {@link RAMP_END}, erf(sqrt(ln(1 / 0.35))) = 0.853.
 */
const GAUSSIAN_RAMP = Math.sqrt(2 * Math.PI) * 0.853;
/** As many profiles say what the edge is like. */
const PROFILES_MOST = 300;

/** Variance that averaging over 3x3 adds to an edge: that of a box of 3. */
const BOX_VARIANCE = 2 / 3;
/** A profile shorter than this on either side says nothing. */
const LEAST_REACH = 2;
/** In a region no deeper than this the ramps of its two sides run into each other: there the smaller width counts. */
const NARROW_DEPTH = 5;

/** Profiles across the edges of one region: widths in samples, by two measures. */
interface Widths {
  readonly ramps: number[];
  readonly profiles: number[];
}

/**
 * Width of the edges of a region against what the optics would make of a step: 1 is as sharp as can be. Measured in two ways at every
 * place where the edge runs across a row or column, and the larger median counts: the ramp of the slope sees through the division of
 * a soft film into bands, the integral of the profile through noise.
 * @param psfPx sigma of the point spread, pixel included, in samples
 */
export function edgeWidthRatio(window: Window, division: Division, slopes: Slopes, label: number, psfPx: number): number {
  const found: Widths = { ramps: [], profiles: [] };
  const { width, height } = window;
  const { labels, regions } = division;
  const box = regions[label]?.box ?? { colFrom: 0, colEnd: 0, rowFrom: 0, rowEnd: 0 };
  const project = projector(window, division);
  const reach = Math.ceil(8 * Math.max(1, psfPx));
  const every = Math.max(1, Math.floor((2 * (box.colEnd - box.colFrom + box.rowEnd - box.rowFrom)) / PROFILES_MOST));
  for (let row = Math.max(0, box.rowFrom - 1), nth = 0; row < box.rowEnd; row++) {
    for (let col = Math.max(0, box.colFrom - 1); col < box.colEnd; col++) {
      const at = row * width + col;
      const here = labels[at] as number;
      const across = col + 1 < width && isBorder(here, labels[at + 1] as number, label) && nth++ % every === 0;
      if (across) addWidths(window, division, project, slopes, { at, stride: 1, before: col, after: width - 1 - col, reach }, found);
      const down = row + 1 < height && isBorder(here, labels[at + width] as number, label) && nth++ % every === 0;
      if (down) addWidths(window, division, project, slopes, { at, stride: width, before: row, after: height - 1 - row, reach }, found);
    }
  }
  const ramp = GAUSSIAN_RAMP * Math.sqrt(psfPx * psfPx + OWN_VARIANCE);
  const profile = Math.sqrt((psfPx * psfPx + BOX_VARIANCE) / Math.PI);
  if (found.ramps.length === 0) return 1;
  const [one, other] = [median(Float32Array.from(found.ramps)) / ramp, median(Float32Array.from(found.profiles)) / profile];
  return (regions[label]?.depth ?? 0) <= NARROW_DEPTH ? Math.min(one, other) : Math.max(one, other);
}

/** A border between the samples `at` and `at + stride`, with the samples that there are on either side. */
interface Border {
  readonly at: number;
  readonly stride: number;
  readonly before: number;
  readonly after: number;
  readonly reach: number;
}

function addWidths(window: Window, division: Division, project: Projector, slopes: Slopes, border: Border, found: Widths): void {
  const { at, stride } = border;
  if (window.foreign[at] === 1 || window.foreign[at + stride] === 1) return;
  const lean = directionCosine(window, project.weights(division.labels[at] as number, division.labels[at + stride] as number), at, stride);
  if (lean < 0.7) return;
  const ramp = rampWidth(slopes, border);
  if (ramp > 0) found.ramps.push(ramp * lean);
  const profile = profileWidth(division, project, border);
  if (profile !== undefined) found.profiles.push(profile * lean);
}

/**
 * Integral of p (1 - p) across the border, where p goes from 0 in one region to 1 in the other: sigma / sqrt(pi) for a step blurred by
 * a Gaussian of sigma. Undefined where a region is too narrow to tell.
 */
function profileWidth(division: Division, project: Projector, border: Border): number | undefined {
  const { labels } = division;
  const { at, stride, before, after, reach } = border;
  const [here, there] = [labels[at] as number, labels[at + stride] as number];
  let back = 0;
  while (back < Math.min(reach, before + 1) && labels[at - back * stride] === here) back++;
  let ahead = 0;
  while (ahead < Math.min(reach, after) && labels[at + (ahead + 1) * stride] === there) ahead++;
  if (back < LEAST_REACH || ahead < LEAST_REACH) return undefined;
  let sum = 0;
  for (let i = -back + 1; i <= ahead; i++) {
    const p = project.share(here, there, at + i * stride);
    sum += p * (1 - p);
  }
  return Math.max(0, sum);
}

function isBorder(here: number, there: number, label: number): boolean {
  return here !== there && (here === label || there === label);
}

/**
 * Length of the ramp across a border: the slope of the contrast (all channels together) followed to both sides until it has fallen
 * off, its sum over its largest value. It does not ask where regions end.
 */
function rampWidth(slopes: Slopes, border: Border): number {
  const { at, stride, before, after } = border;
  let top = at;
  for (let i = Math.max(-2, -before); i <= Math.min(3, after); i++) if (slopes.at(at + i * stride) > slopes.at(top)) top = at + i * stride;
  const steepest = slopes.at(top);
  if (steepest === 0) return 0;
  const moved = Math.round((top - at) / stride);
  const sum = steepest + follow(slopes, top, stride, after - moved, steepest) + follow(slopes, top, -stride, before + moved, steepest);
  return sum / steepest;
}

/** Adds up slopes from a place onwards while they are part of the ramp. */
function follow(slopes: Slopes, from: number, stride: number, most: number, steepest: number): number {
  let sum = 0;
  for (let i = 1; i <= most; i++) {
    const slope = slopes.at(from + i * stride);
    if (slope < RAMP_END * steepest) break;
    sum += slope;
  }
  return sum;
}

/** Steepness of the 3x3 means at a sample, in noise units, without what noise alone gives. */
export interface Slopes {
  at(sample: number): number;
}

/** Slopes of a window, worked out where they are asked for. */
export function slopesOf(window: Window): Slopes {
  const { width, height, smooth, noise } = window;
  const known = new Float32Array(width * height).fill(-1);
  const weights = noise.map((n) => 1 / (n * n * (12 / 81)));
  return {
    at(sample) {
      const kept = known[sample] as number;
      if (kept >= 0) return kept;
      const col = sample % width;
      const left = col > 0 ? -1 : 0;
      const right = col < width - 1 ? 1 : 0;
      const up = sample >= width ? -width : 0;
      const down = sample < width * (height - 1) ? width : 0;
      let sum = 0;
      for (let c = 0; c < smooth.length; c++) {
        const plane = smooth[c] as Float32Array;
        const dx = (plane[sample + right] as number) - (plane[sample + left] as number);
        const dy = (plane[sample + down] as number) - (plane[sample + up] as number);
        sum += (dx * dx + dy * dy) * (weights[c] as number);
      }
      const slope = Math.sqrt(Math.max(0, sum - 2 * smooth.length));
      known[sample] = slope;
      return slope;
    },
  };
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
