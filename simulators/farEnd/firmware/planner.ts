/** Motor positions of the three axes, mm. */
export type Axes = readonly [number, number, number];

/** One straight way, begun and ended at rest. */
interface Block {
  readonly from: Axes;
  readonly to: Axes;
  readonly lengthMm: number;
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
  readonly startMs: number;
}

/** Slowing down from a speed, after a cancel. */
interface Fade {
  readonly at: Axes;
  readonly along: Axes;
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
  readonly startMs: number;
}

export interface AxisLimits {
  readonly stepsPerMm: Axes;
  readonly maxRateMmPerMin: Axes;
  readonly accelerationMmPerS2: Axes;
}

/** Blocks that fit into the planner; the ring holds 16, one of which is always free. */
export const MOST_BLOCKS = 15;

const map3 = (change: (axis: 0 | 1 | 2) => number): Axes => [change(0), change(1), change(2)];

function lengthOf(from: Axes, to: Axes): number {
  return Math.hypot(to[0] - from[0], to[1] - from[1], to[2] - from[2]);
}

/** Uniformly accelerated motion (any textbook of mechanics): the speed at the top, and the time that the whole way takes. */
function courseOf({ lengthMm, speedMmPerS, accelerationMmPerS2 }: Block): { readonly topMmPerS: number; readonly seconds: number } {
  const topMmPerS = Math.min(speedMmPerS, Math.sqrt(lengthMm * accelerationMmPerS2));
  return { topMmPerS, seconds: lengthMm / topMmPerS + topMmPerS / accelerationMmPerS2 };
}

function goneMm(block: Block, seconds: number): number {
  const { topMmPerS, seconds: whole } = courseOf(block);
  const { accelerationMmPerS2: a, lengthMm } = block;
  const ramp = topMmPerS / a;
  if (seconds <= 0) return 0;
  if (seconds >= whole) return lengthMm;
  if (seconds < ramp) return (a * seconds * seconds) / 2;
  if (seconds < whole - ramp) return (topMmPerS * ramp) / 2 + topMmPerS * (seconds - ramp);
  return lengthMm - (a * (whole - seconds) ** 2) / 2;
}

function speedAt(block: Block, seconds: number): number {
  const { topMmPerS, seconds: whole } = courseOf(block);
  return Math.max(0, Math.min(topMmPerS, block.accelerationMmPerS2 * seconds, block.accelerationMmPerS2 * (whole - seconds)));
}

/** The queue of motions and where it has brought the motors, by the firmware's own count. */
export class MotionPlanner {
  #rest: Axes = [0, 0, 0];
  #blocks: Block[] = [];
  #fade: Fade | undefined;
  readonly #limits: AxisLimits;

  constructor(limits: AxisLimits) {
    this.#limits = limits;
  }

  isMoving(atMs: number): boolean {
    this.#advance(atMs);
    return this.#blocks.length > 0 || this.#fade !== undefined;
  }

  /** Free places in the queue. */
  free(atMs: number): number {
    this.#advance(atMs);
    return MOST_BLOCKS - this.#blocks.length;
  }

  /** Where the last block in the queue will end. */
  end(atMs: number): Axes {
    this.#advance(atMs);
    return this.#blocks.at(-1)?.to ?? this.#rest;
  }

  /** When a place will be free, or everything at rest. */
  nextEndMs(atMs: number): number {
    this.#advance(atMs);
    const first = this.#blocks[0];
    if (this.#fade) return this.#fade.startMs + (this.#fade.speedMmPerS / this.#fade.accelerationMmPerS2) * 1000;
    return first ? first.startMs + courseOf(first).seconds * 1000 : atMs;
  }

  /** Queues a straight way; motors stop at whole steps. A way of no length takes no place. */
  add(target: Axes, feedMmPerMin: number, atMs: number): void {
    const from = this.end(atMs);
    const { stepsPerMm, maxRateMmPerMin, accelerationMmPerS2 } = this.#limits;
    const to = map3((axis) => Math.round(target[axis] * stepsPerMm[axis]) / stepsPerMm[axis]);
    const lengthMm = lengthOf(from, to);
    if (lengthMm === 0) return;
    const share = map3((axis) => Math.abs(to[axis] - from[axis]) / lengthMm);
    const most = (limits: Axes) => Math.min(...share.map((part, axis) => (part === 0 ? Number.POSITIVE_INFINITY : (limits[axis] ?? 0) / part)));
    const startMs = this.#blocks.length === 0 ? atMs : Number.NaN;
    this.#blocks.push({ from, to, lengthMm, speedMmPerS: Math.max(1, Math.min(feedMmPerMin, most(maxRateMmPerMin))) / 60, accelerationMmPerS2: most(accelerationMmPerS2), startMs });
  }

  at(atMs: number): Axes {
    this.#advance(atMs);
    if (this.#fade) {
      const { at, along, speedMmPerS: v, accelerationMmPerS2: a, startMs } = this.#fade;
      const seconds = Math.max(0, (atMs - startMs) / 1000);
      const gone = v * seconds - (a * seconds * seconds) / 2;
      return map3((axis) => at[axis] + along[axis] * gone);
    }
    const block = this.#blocks[0];
    if (!block) return this.#rest;
    const share = goneMm(block, (atMs - block.startMs) / 1000) / block.lengthMm;
    return map3((axis) => block.from[axis] + (block.to[axis] - block.from[axis]) * share);
  }

  /** Speed along the way, mm/min. */
  feed(atMs: number): number {
    this.#advance(atMs);
    const block = this.#blocks[0];
    return block ? speedAt(block, (atMs - block.startMs) / 1000) * 60 : 0;
  }

  /** Slows down to rest and empties the queue. */
  cancel(atMs: number): void {
    this.#advance(atMs);
    const block = this.#blocks[0];
    if (!block) return;
    const speedMmPerS = speedAt(block, (atMs - block.startMs) / 1000);
    const along = map3((axis) => (block.to[axis] - block.from[axis]) / block.lengthMm);
    this.#fade = { at: this.at(atMs), along, speedMmPerS, accelerationMmPerS2: block.accelerationMmPerS2, startMs: atMs };
    this.#blocks = [];
  }

  /** Stands at once, wherever it is; nobody knows how many steps that costs. */
  halt(atMs: number): void {
    this.#rest = this.at(atMs);
    this.#blocks = [];
    this.#fade = undefined;
  }

  /** Stands at a place, by order of homing or of a new count from zero. */
  place(at: Axes): void {
    this.#rest = at;
    this.#blocks = [];
    this.#fade = undefined;
  }

  #advance(atMs: number): void {
    if (this.#fade) {
      const { at, along, speedMmPerS: v, accelerationMmPerS2: a, startMs } = this.#fade;
      if (atMs < startMs + (v / a) * 1000) return;
      const whole = (v * v) / (2 * a);
      const { stepsPerMm } = this.#limits;
      this.#rest = map3((axis) => Math.round((at[axis] + along[axis] * whole) * stepsPerMm[axis]) / stepsPerMm[axis]);
      this.#fade = undefined;
    }
    for (let block = this.#blocks[0]; block; block = this.#blocks[0]) {
      const endMs = block.startMs + courseOf(block).seconds * 1000;
      if (atMs < endMs) return;
      this.#rest = block.to;
      this.#blocks.shift();
      const next = this.#blocks[0];
      if (next) this.#blocks[0] = { ...next, startMs: endMs };
    }
  }
}
