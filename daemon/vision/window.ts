import type { Component } from './components.ts';
import type { ContrastImage } from './contrast.ts';
import { median } from './statistics.ts';
import { sumThreeRows } from './threeRows.ts';

/** One component cut out of its frame with a rim of substrate, levelled to its own surroundings. */
export interface Window {
  readonly colFrom: number;
  readonly rowFrom: number;
  readonly width: number;
  readonly height: number;
  /** Contrast, one plane per channel. */
  readonly planes: readonly Float32Array[];
  /** The same, averaged over 3x3. */
  readonly smooth: readonly Float32Array[];
  /** 1 where the component is. */
  readonly mask: Uint8Array;
  /** The component's samples in reading order: most windows are mostly substrate. */
  readonly inside: Int32Array;
  /** 1 where another component is: neither this one nor bare oxide. */
  readonly foreign: Uint8Array;
  readonly saturated: Uint8Array;
  /** Noise of one sample on bare oxide, per channel. */
  readonly noise: readonly number[];
  /** Error of the local level of bare oxide, as contrast, per channel. */
  readonly levelError: readonly number[];
  /** How far the local level was from the frame's fit, as contrast, per channel. */
  readonly halo: readonly number[];
}

/** Samples of rim around a component, for the point spread, where the ring does not want more. */
const RIM_PX = 12;
/** The ring of substrate that a component is levelled by begins and ends this far from it, um... */
const RING_FROM_UM = 3;
const RING_TO_UM = 10;
/** ...but not within the reach of an edge, nor wider than this, in samples. */
const RING_FROM_PX = 3;
const RING_TO_PX = 32;
/** Fewer ring samples than this leave the frame's own fit. */
const RING_LEAST = 40;
/** And about this many are enough: of larger windows only every so manieth sample is looked at. */
const RING_MOST = 2500;

export function cutWindow(image: ContrastImage, labels: Int32Array, component: Component, noise: readonly number[], pixelUm: number): Window {
  const rim = Math.max(RIM_PX, Math.min(RING_TO_PX, Math.ceil(RING_TO_UM / pixelUm)));
  const colFrom = Math.max(0, component.colFrom - rim);
  const rowFrom = Math.max(0, component.rowFrom - rim);
  const width = Math.min(image.widthPx, component.colEnd + rim) - colFrom;
  const height = Math.min(image.heightPx, component.rowEnd + rim) - rowFrom;
  const mask = new Uint8Array(width * height);
  const foreign = new Uint8Array(width * height);
  const saturated = new Uint8Array(width * height);
  const inside = new Int32Array(component.count);
  let count = 0;
  for (let row = 0, to = 0; row < height; row++) {
    let from = (rowFrom + row) * image.widthPx + colFrom;
    for (let col = 0; col < width; col++, from++, to++) {
      const label = labels[from] as number;
      if (label === component.label) {
        mask[to] = 1;
        inside[count++] = to;
        saturated[to] = image.saturated[from] as number;
      } else if (label !== 0) foreign[to] = 1;
    }
  }
  const planes = image.planes.map((plane) => cutPlane(plane, image.widthPx, colFrom, rowFrom, width, height));
  const ring = ringOf(mask, foreign, width, height, Math.min(RING_TO_PX / 2, Math.max(RING_FROM_PX, Math.round(RING_FROM_UM / pixelUm))));
  const halo = planes.map((plane) => level(plane, ring));
  const levelError = halo.map((h, c) => (ring.length < RING_LEAST ? 0.004 : Math.hypot(0.001, (1.25 * (noise[c] as number)) / Math.sqrt(ring.length), 0.1 * h)));
  const smooth = planes.map((plane) => boxMean(plane, width, height));
  return { colFrom, rowFrom, width, height, planes, smooth, mask, inside, foreign, saturated, noise, levelError, halo };
}

function cutPlane(plane: Float32Array, stride: number, colFrom: number, rowFrom: number, width: number, height: number): Float32Array {
  const cut = new Float32Array(width * height);
  for (let row = 0; row < height; row++) {
    const from = (rowFrom + row) * stride + colFrom;
    cut.set(plane.subarray(from, from + width), row * width);
  }
  return cut;
}

/** Substrate samples near the component but clear of its edge and of other components. */
function ringOf(mask: Uint8Array, foreign: Uint8Array, width: number, height: number, fromPx: number): readonly number[] {
  const near = new Uint8Array(width * height);
  for (let i = 0; i < near.length; i++) near[i] = mask[i] === 1 || foreign[i] === 1 ? 1 : 0;
  const grown = dilate(near, width, height, fromPx);
  const every = Math.max(1, Math.floor(near.length / RING_MOST));
  const ring: number[] = [];
  for (let i = 0; i < near.length; i += every) if (grown[i] === 0) ring.push(i);
  return ring;
}

/** Takes the ring's median off the plane and returns it: R/R0 becomes relative to the oxide close by. */
function level(plane: Float32Array, ring: readonly number[]): number {
  if (ring.length < RING_LEAST) return 0;
  const around = new Float32Array(ring.length);
  for (let n = 0; n < around.length; n++) around[n] = plane[ring[n] as number] as number;
  const offset = median(around);
  const gain = 1 / (1 - offset);
  for (let i = 0; i < plane.length; i++) plane[i] = 1 - (1 - (plane[i] as number)) * gain;
  return offset;
}

/** Grows a mask by a square of the given reach. */
export function dilate(mask: Uint8Array, width: number, height: number, reach: number): Uint8Array {
  const across = new Uint8Array(mask.length);
  for (let row = 0; row < height; row++) spread(mask, across, row * width, 1, width, reach);
  const grown = new Uint8Array(mask.length);
  for (let col = 0; col < width; col++) spread(across, grown, col, width, height, reach);
  return grown;
}

function spread(from: Uint8Array, to: Uint8Array, start: number, stride: number, count: number, reach: number): void {
  let last = -Infinity;
  for (let i = 0; i < count; i++) {
    if (from[start + i * stride] === 1) last = i;
    if (i - last <= reach) to[start + i * stride] = 1;
  }
  last = Infinity;
  for (let i = count - 1; i >= 0; i--) {
    if (from[start + i * stride] === 1) last = i;
    if (last - i <= reach) to[start + i * stride] = 1;
  }
}

/** Mean over 3x3; beyond the edge the outermost samples are repeated. */
export function boxMean(plane: Float32Array, width: number, height: number): Float32Array {
  const mean = new Float32Array(plane.length);
  const line = new Float32Array(width + 2);
  for (let row = 0; row < height; row++) {
    sumThreeRows(plane, row, width, height, line);
    const here = row * width;
    for (let c = 0; c < width; c++) mean[here + c] = ((line[c] as number) + (line[c + 1] as number) + (line[c + 2] as number)) / 9;
  }
  return mean;
}
