import type { Cells } from './cells.ts';
import { QuadraticFit, valueAt } from './quadratic.ts';
import type { Quadratic } from './quadratic.ts';
import { lowQuantile, median } from './statistics.ts';

/** The level of bare oxide over the field: a quadratic surface per channel, after division by the flat field. */
export interface Substrate {
  readonly surface: readonly Quadratic[];
  /** 1 for each cell that looks like bare oxide. */
  readonly bare: Uint8Array;
  /** Share of the cells that are bare. */
  readonly share: number;
}

/** Neighbouring cells of bare oxide differ by less than this share of their level: light falls off slowly, flakes do not. */
const SMOOTH_STEP = 0.02;
/** A bare cell is no more uneven than this many times the quiet cells. */
const QUIET_FACTOR = 1.35;
/** The quiet cells: this quantile of all unevenness. */
const QUIET_QUANTILE = 0.2;
/** Cells farther than this many spreads from the surface are not bare. */
const CLIP = 3.5;

/**
 * Finds bare oxide as the largest part of the frame over which the light changes only slowly, and fits its level. Flakes and dirt
 * end in edges, so they do not join it; it need not cover half of the frame.
 * @param levels cell means after division by the flat field, interleaved like the cells
 * @param expected level of bare oxide seen in earlier frames; of several smooth parts the nearest to it is taken
 * @returns undefined where there is nothing smooth
 */
export function findSubstrate(cells: Cells, levels: Float32Array, expected?: readonly number[]): Substrate | undefined {
  const quiet = quietCells(cells);
  const parts = smoothParts(cells, levels, quiet);
  const part = chooseSubstrate(parts, cells, levels, expected);
  if (!part) return undefined;
  let bare = part;
  let surface = fitSurface(cells, levels, bare);
  for (let round = 0; round < 4; round++) {
    bare = clipToSurface(cells, levels, quiet, surface, bare);
    surface = fitSurface(cells, levels, bare);
  }
  let count = 0;
  for (const b of bare) count += b;
  return { surface, bare, share: count / bare.length };
}

/** Place of a cell's centre on the -1 to 1 square of the surface. */
export function cellPlace(cells: Cells, cell: number): readonly [number, number] {
  const column = cell % cells.columns;
  const row = (cell - column) / cells.columns;
  return [(2 * (column + 0.5)) / cells.columns - 1, (2 * (row + 0.5)) / cells.rows - 1];
}

function quietCells(cells: Cells): Uint8Array {
  const count = cells.columns * cells.rows;
  const quiet = new Uint8Array(count).fill(1);
  for (let channel = 0; channel < cells.channels; channel++) {
    const spread = new Float32Array(count);
    for (let cell = 0; cell < count; cell++) {
      const at = cell * cells.channels + channel;
      spread[cell] = (cells.deviation[at] as number) / Math.sqrt(Math.max(cells.mean[at] as number, 1e-6));
    }
    const limit = lowQuantile(spread, QUIET_QUANTILE) * QUIET_FACTOR + 1e-4;
    for (let cell = 0; cell < count; cell++) if ((spread[cell] as number) > limit) quiet[cell] = 0;
  }
  for (let cell = 0; cell < count; cell++) if ((cells.saturated[cell] as number) > 0.02) quiet[cell] = 0;
  return quiet;
}

function smoothParts(cells: Cells, levels: Float32Array, quiet: Uint8Array): readonly Int32Array[] {
  const seen = new Uint8Array(quiet.length);
  const parts: Int32Array[] = [];
  const room = new Int32Array(4);
  for (let start = 0; start < quiet.length; start++) {
    if (quiet[start] === 0 || seen[start] === 1) continue;
    const stack = [start];
    const found: number[] = [];
    seen[start] = 1;
    for (let cell = stack.pop(); cell !== undefined; cell = stack.pop()) {
      found.push(cell);
      const around = neighbours(cells, cell, room);
      for (let i = 0; i < around; i++) {
        const next = room[i] as number;
        if (quiet[next] === 0 || seen[next] === 1 || !isSmooth(cells, levels, cell, next)) continue;
        seen[next] = 1;
        stack.push(next);
      }
    }
    parts.push(Int32Array.from(found));
  }
  return parts;
}

/** Writes the cells beside a cell into `room` and returns how many there are. */
function neighbours(cells: Cells, cell: number, room: Int32Array): number {
  const column = cell % cells.columns;
  let count = 0;
  if (column > 0) room[count++] = cell - 1;
  if (column < cells.columns - 1) room[count++] = cell + 1;
  if (cell >= cells.columns) room[count++] = cell - cells.columns;
  if (cell < cells.columns * (cells.rows - 1)) room[count++] = cell + cells.columns;
  return count;
}

function isSmooth(cells: Cells, levels: Float32Array, a: number, b: number): boolean {
  for (let channel = 0; channel < cells.channels; channel++) {
    const one = levels[a * cells.channels + channel] as number;
    const other = levels[b * cells.channels + channel] as number;
    if (Math.abs(one - other) > SMOOTH_STEP * Math.max(one, other)) return false;
  }
  return true;
}

/** The largest part; among those at least a tenth as large, the one nearest to the expected level where that is known. */
function chooseSubstrate(parts: readonly Int32Array[], cells: Cells, levels: Float32Array, expected?: readonly number[]): Uint8Array | undefined {
  let largest = 0;
  for (const part of parts) largest = Math.max(largest, part.length);
  if (largest < 12) return undefined;
  let best: Int32Array | undefined;
  let bestScore = Infinity;
  for (const part of parts) {
    if (part.length < Math.max(12, largest / 10)) continue;
    const score = expected ? distanceTo(part, cells, levels, expected) : -part.length;
    if (score < bestScore) [best, bestScore] = [part, score];
  }
  if (!best) return undefined;
  const bare = new Uint8Array(cells.columns * cells.rows);
  for (const cell of best) bare[cell] = 1;
  return bare;
}

function distanceTo(part: Int32Array, cells: Cells, levels: Float32Array, expected: readonly number[]): number {
  let distance = 0;
  for (let channel = 0; channel < cells.channels; channel++) {
    const level = median(Float32Array.from(part, (cell) => levels[cell * cells.channels + channel] as number));
    distance = Math.max(distance, Math.abs(Math.log(Math.max(level, 1e-6) / Math.max(expected[channel] ?? level, 1e-6))));
  }
  return distance;
}

function fitSurface(cells: Cells, levels: Float32Array, bare: Uint8Array): readonly Quadratic[] {
  const fit = new QuadraticFit(cells.channels);
  for (let row = 0, cell = 0; row < cells.rows; row++) {
    const y = (2 * (row + 0.5)) / cells.rows - 1;
    for (let column = 0; column < cells.columns; column++, cell++) {
      if (bare[cell] === 1) fit.add((2 * (column + 0.5)) / cells.columns - 1, y, levels, cell * cells.channels);
    }
  }
  return fit.solve();
}

/** Keeps the quiet cells that lie on the surface in every channel. */
function clipToSurface(cells: Cells, levels: Float32Array, quiet: Uint8Array, surface: readonly Quadratic[], before: Uint8Array): Uint8Array {
  const bare = Uint8Array.from(quiet);
  surface.forEach((quadratic, channel) => {
    const off = new Float32Array(bare.length);
    const kept = new Float32Array(bare.length);
    let count = 0;
    for (let row = 0, cell = 0; row < cells.rows; row++) {
      const y = (2 * (row + 0.5)) / cells.rows - 1;
      for (let column = 0; column < cells.columns; column++, cell++) {
        const level = valueAt(quadratic, (2 * (column + 0.5)) / cells.columns - 1, y);
        off[cell] = Math.abs((levels[cell * cells.channels + channel] as number) / Math.max(level, 1e-6) - 1);
        if (before[cell] === 1) kept[count++] = off[cell] as number;
      }
    }
    const limit = Math.min(0.05, Math.max(CLIP * 1.4826 * median(kept.subarray(0, count)), 0.003));
    for (let cell = 0; cell < bare.length; cell++) if ((off[cell] as number) > limit) bare[cell] = 0;
  });
  return bare;
}
