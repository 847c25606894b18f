import { median } from './statistics.ts';
import type { FlatField, FrameMeasurement } from './types.ts';

type Coarse = FrameMeasurement['coarse'];

/** Frames that the flat field remembers; the oldest leave first, so that it follows slow changes of the light path. */
const REMEMBERED = 31;
/** With fewer frames than this nobody can tell a flake from a shadow on the sensor. */
const FRAMES_LEAST = 3;

/** What the flat field is made from: the coarse grids of the newest frames, in tile order. */
export interface FlatFieldState {
  readonly grids: readonly Coarse[];
  /** How many were ever added. */
  readonly frames: number;
}

export const emptyFlatField: FlatFieldState = { grids: [], frames: 0 };

/** Adds one frame's grid. Call it in tile order: the same order gives the same flat field. Grids without usable cells are left out. */
export function addToFlatField(state: FlatFieldState, coarse: Coarse): FlatFieldState {
  const first = state.grids[0];
  if (!coarse.values.some((v) => v > 0)) return state;
  if (first && (first.columns !== coarse.columns || first.rows !== coarse.rows || first.channels !== coarse.channels)) return state;
  const grids = [...state.grids, coarse];
  return { grids: grids.length > REMEMBERED ? grids.slice(1) : grids, frames: state.frames + 1 };
}

/**
 * The flat field of what was added: the median over frames of every cell, each frame first brought to the same light. Undefined
 * until there are three frames.
 */
export function flatFieldOf(state: FlatFieldState): FlatField | undefined {
  return state.grids.length < FRAMES_LEAST ? undefined : combine(state.grids, state.frames);
}

/** The flat field from one frame of bare substrate. */
export function flatFieldFromBlank(coarse: Coarse): FlatField {
  return combine([coarse], 1);
}

/** Frames that must agree before they are believed against a blank frame, */
const CORRECTING_FRAMES = 5;
/** and by so much they must differ from it: more than the noise of a cell's mean, less than the shadow of dust that matters. */
const CORRECTION_LEAST = 0.006;

/**
 * The flat field of a blank frame, with the cells replaced in which the frames agree on another one: dust that came or went since the
 * blank was taken.
 */
export function correctBlank(blank: FlatField, own: FlatField): FlatField {
  if (own.frames < CORRECTING_FRAMES || own.values.length !== blank.values.length) return blank;
  const ratios = blank.values.map((value, i) => (own.values[i] as number) / value);
  const usual = Array.from({ length: blank.channels }, (_, c) => median(ratios.filter((_, i) => i % blank.channels === c)));
  return { ...blank, values: blank.values.map((value, i) => {
    const ratio = (ratios[i] as number) / (usual[i % blank.channels] as number);
    return Math.abs(ratio - 1) > CORRECTION_LEAST ? value * ratio : value;
  }) };
}

function combine(grids: readonly Coarse[], frames: number): FlatField {
  const { columns, rows, channels } = grids[0] as Coarse;
  const values = new Float32Array(columns * rows * channels);
  for (let channel = 0; channel < channels; channel++) {
    let plane = medianPlane(grids, channel, grids.map((g) => levelOf(g, channel)));
    for (let round = 0; round < 2; round++) {
      const reference = plane;
      plane = medianPlane(grids, channel, grids.map((g) => levelOf(g, channel, reference)));
    }
    fillGaps(plane, columns, rows);
    const mean = plane.reduce((sum, v) => sum + v, 0) / plane.length;
    for (let cell = 0; cell < plane.length; cell++) values[cell * channels + channel] = (plane[cell] as number) / mean;
  }
  return { columns, rows, channels, values, frames };
}

/** Light of a frame against a reference: the median over the cells that both have. */
function levelOf(grid: Coarse, channel: number, reference?: Float32Array): number {
  const ratios: number[] = [];
  for (let cell = 0; cell < grid.columns * grid.rows; cell++) {
    const value = grid.values[cell * grid.channels + channel] as number;
    const ratio = value / (reference?.[cell] ?? 1);
    if (Number.isFinite(ratio)) ratios.push(ratio);
  }
  return ratios.length > 0 ? median(Float32Array.from(ratios)) : 1;
}

function medianPlane(grids: readonly Coarse[], channel: number, levels: readonly number[]): Float32Array {
  const { columns, rows, channels } = grids[0] as Coarse;
  const plane = new Float32Array(columns * rows);
  const seen = new Float32Array(grids.length);
  for (let cell = 0; cell < plane.length; cell++) {
    let count = 0;
    for (let g = 0; g < grids.length; g++) {
      const value = ((grids[g] as Coarse).values[cell * channels + channel] as number) / (levels[g] as number);
      if (Number.isFinite(value)) seen[count++] = value;
    }
    plane[cell] = count === 0 ? NaN : median(seen.subarray(0, count));
  }
  return plane;
}

/** Cells that no frame knows take the mean of their known neighbours, from the rim of the gap inwards. */
function fillGaps(plane: Float32Array, columns: number, rows: number): void {
  for (let round = 0; round < columns + rows; round++) {
    const before = Float32Array.from(plane);
    let left = 0;
    for (let cell = 0; cell < plane.length; cell++) {
      if (!Number.isNaN(before[cell])) continue;
      plane[cell] = neighbourMean(before, columns, rows, cell);
      if (Number.isNaN(plane[cell])) left++;
    }
    if (left === 0) return;
  }
  for (let cell = 0; cell < plane.length; cell++) if (Number.isNaN(plane[cell])) plane[cell] = 1;
}

function neighbourMean(plane: Float32Array, columns: number, rows: number, cell: number): number {
  const column = cell % columns;
  const row = (cell - column) / columns;
  let sum = 0;
  let count = 0;
  for (let r = Math.max(0, row - 1); r <= Math.min(rows - 1, row + 1); r++) {
    for (let c = Math.max(0, column - 1); c <= Math.min(columns - 1, column + 1); c++) {
      const value = plane[r * columns + c] as number;
      if (Number.isNaN(value)) continue;
      sum += value;
      count++;
    }
  }
  return count === 0 ? NaN : sum / count;
}
