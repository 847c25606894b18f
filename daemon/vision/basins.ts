import { TOP_LEVEL } from './gradient.ts';
import { varianceAt } from './noise.ts';
import type { Window } from './window.ts';

/** Two basins are one when the sill between them is less than this many gradient levels above the shallower floor. */
const SILL = 12;
/** Two basins are one when their means differ by less than this, squared, in units of one sample's noise. */
const SAME = 1;

/** Basins of the gradient within one component: 0 outside, else 1 to `count`. */
export interface Basins {
  readonly labels: Int32Array;
  readonly count: number;
}

/** Regions that grow while the gradient's levels are flooded from below: a forest of joined sets with their sums. */
class Forest {
  private readonly parent: number[] = [0];
  private readonly floor: number[] = [0];
  private readonly size: number[] = [0];
  private readonly sums: Float64Array[] = [new Float64Array(0)];
  private readonly channels: number;

  constructor(channels: number) {
    this.channels = channels;
  }

  found(level: number): number {
    this.parent.push(this.parent.length);
    this.floor.push(level);
    this.size.push(0);
    this.sums.push(new Float64Array(this.channels));
    return this.parent.length - 1;
  }

  root(of: number): number {
    let at = of;
    while (this.parent[at] !== at) {
      this.parent[at] = this.parent[this.parent[at] as number] as number;
      at = this.parent[at] as number;
    }
    return at;
  }

  add(root: number, window: Window, at: number): void {
    this.size[root] = (this.size[root] as number) + 1;
    const sums = this.sums[root] as Float64Array;
    for (let c = 0; c < sums.length; c++) sums[c] = (sums[c] as number) + ((window.planes[c] as Float32Array)[at] as number);
  }

  /** Squared distance of a basin's mean from one sample's 3x3 mean, in units of the noise on bare oxide. */
  distanceTo(root: number, window: Window, at: number): number {
    const sums = this.sums[root] as Float64Array;
    const size = this.size[root] as number;
    let distance = 0;
    for (let c = 0; c < sums.length; c++) {
      const off = ((sums[c] as number) / size - ((window.smooth[c] as Float32Array)[at] as number)) / (window.noise[c] as number);
      distance += off * off;
    }
    return distance;
  }

  /** Squared distance of two basins' means in units of one sample's noise at that light. */
  distanceBetween(a: number, b: number, window: Window): number {
    let distance = 0;
    for (let c = 0; c < this.channels; c++) {
      const p = ((this.sums[a] as Float64Array)[c] as number) / (this.size[a] as number);
      const q = ((this.sums[b] as Float64Array)[c] as number) / (this.size[b] as number);
      distance += ((p - q) * (p - q)) / varianceAt(window.noise[c] as number, (p + q) / 2);
    }
    return distance;
  }

  floorOf(root: number): number {
    return this.floor[root] as number;
  }

  /** Joins b to a, which keeps its number and takes the lower floor. */
  join(a: number, b: number): void {
    this.parent[b] = a;
    this.floor[a] = Math.min(this.floor[a] as number, this.floor[b] as number);
    this.size[a] = (this.size[a] as number) + (this.size[b] as number);
    const [into, from] = [this.sums[a] as Float64Array, this.sums[b] as Float64Array];
    for (let c = 0; c < into.length; c++) into[c] = (into[c] as number) + (from[c] as number);
  }
}

/**
 * Divides a component into basins of its gradient: flat places, each out to where the next begins. Samples are taken in order of
 * their level; where basins meet they join when the sill between them is low or their contrast is the same, else the sample goes to
 * the basin nearer in contrast.
 */
export function findBasins(window: Window, levels: Uint8Array): Basins {
  const order = inOrder(window.inside, levels);
  const labels = new Int32Array(levels.length);
  const forest = new Forest(window.planes.length);
  const around: number[] = [];
  for (const at of order) {
    rootsAround(window, labels, forest, at, around);
    const level = levels[at] as number;
    const root = around.length === 0 ? forest.found(level) : joinAround(window, forest, around, at, level);
    labels[at] = root;
    forest.add(root, window, at);
  }
  return renumber(labels, window.inside, forest);
}

/** The component's samples, lowest level first, in reading order within a level. */
function inOrder(inside: Int32Array, levels: Uint8Array): Int32Array {
  const starts = new Int32Array(TOP_LEVEL + 2);
  for (const at of inside) {
    const slot = (levels[at] as number) + 1;
    starts[slot] = (starts[slot] as number) + 1;
  }
  for (let l = 1; l < starts.length; l++) starts[l] = (starts[l] as number) + (starts[l - 1] as number);
  const order = new Int32Array(inside.length);
  for (const at of inside) {
    const level = levels[at] as number;
    const slot = starts[level] as number;
    order[slot] = at;
    starts[level] = slot + 1;
  }
  return order;
}

function rootsAround(window: Window, labels: Int32Array, forest: Forest, at: number, around: number[]): void {
  around.length = 0;
  const { width, height } = window;
  const col = at % width;
  const row = (at - col) / width;
  for (let r = Math.max(0, row - 1); r <= Math.min(height - 1, row + 1); r++) {
    for (let c = Math.max(0, col - 1); c <= Math.min(width - 1, col + 1); c++) {
      const label = labels[r * width + c] as number;
      if (label === 0) continue;
      const root = forest.root(label);
      if (!around.includes(root)) around.push(root);
    }
  }
}

/** Joins what may be joined at this sample and returns the basin that the sample goes to. */
function joinAround(window: Window, forest: Forest, around: readonly number[], at: number, level: number): number {
  const [only] = around;
  if (around.length === 1 && only !== undefined) return only;
  let kept = [...around].sort((a, b) => a - b);
  for (let i = 0; i < kept.length; i++) {
    const a = kept[i] as number;
    const joined = kept.slice(i + 1).filter((b) => mayJoin(window, forest, a, b, level));
    for (const b of joined) forest.join(a, b);
    kept = kept.filter((k) => !joined.includes(k));
  }
  let best = kept[0] as number;
  let bestDistance = Infinity;
  for (const root of kept) {
    const distance = kept.length === 1 ? 0 : forest.distanceTo(root, window, at);
    if (distance < bestDistance) [best, bestDistance] = [root, distance];
  }
  return best;
}

function mayJoin(window: Window, forest: Forest, a: number, b: number, level: number): boolean {
  if (level - Math.max(forest.floorOf(a), forest.floorOf(b)) < SILL) return true;
  return forest.distanceBetween(a, b, window) < SAME;
}

function renumber(labels: Int32Array, inside: Int32Array, forest: Forest): Basins {
  const numbers = new Map<number, number>();
  for (const i of inside) {
    const root = forest.root(labels[i] as number);
    const number = numbers.get(root) ?? numbers.size + 1;
    numbers.set(root, number);
    labels[i] = number;
  }
  return { labels, count: numbers.size };
}
