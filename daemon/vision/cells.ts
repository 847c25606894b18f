import type { Samples } from './samples.ts';
import { VisionError } from './errors.ts';

/** Side of one cell of the coarse grid, in samples: fine enough for the soft shadows of sensor dust, coarse enough to average noise away. */
export const CELL_PX = 16;

/** Mean light below this share of full scale is black. */
export const BLACK = 0.004;

/** A frame reduced to means over square cells; the last column and row may be narrower. */
export interface Cells {
  readonly columns: number;
  readonly rows: number;
  readonly channels: number;
  /** Mean linear light of the samples that are not saturated, dark level taken off; rows * columns * channels, interleaved. */
  readonly mean: Float32Array;
  /** Standard deviation of one such sample within the cell, same shape; infinite where there is none. */
  readonly deviation: Float32Array;
  /** Share of samples at full scale, rows * columns. */
  readonly saturated: Float32Array;
}

/** A dark level as the passes use it: one number per channel, or every sample's own. */
export interface Dark {
  readonly even: readonly number[];
  readonly perSample: Float32Array | undefined;
}

/** @throws VisionError `wrongDark` when the dark level fits neither one number per channel nor one per sample. */
export function darkOf(dark: Float32Array | readonly number[], samples: Samples): Dark {
  const { channels, data } = samples;
  if (dark.length === channels) return { even: Array.from(dark), perSample: undefined };
  if (dark.length === data.length && dark instanceof Float32Array) return { even: Array.from({ length: channels }, () => 0), perSample: dark };
  throw new VisionError('wrongDark', { expected: channels, found: dark.length });
}

/** One pass over the frame: mean, spread and saturation of every cell. `dark` in linear full-scale units. */
export function cellsOf(samples: Samples, table: Float32Array, dark: Float32Array | readonly number[]): Cells {
  const { widthPx, heightPx, channels } = samples;
  const columns = Math.ceil(widthPx / CELL_PX);
  const rows = Math.ceil(heightPx / CELL_PX);
  const cells: Cells = {
    columns,
    rows,
    channels,
    mean: new Float32Array(rows * columns * channels),
    deviation: new Float32Array(rows * columns * channels),
    saturated: new Float32Array(rows * columns),
  };
  const { even, perSample } = darkOf(dark, samples);
  for (let row = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++) {
      for (let channel = 0; channel < channels; channel++) reduceCell(samples, table, cells, row, column, channel, perSample, even[channel] as number);
    }
  }
  return cells;
}

/** Where there is no light nothing is even either: such cells are no measure of how quiet bare oxide is. Changes the cells' deviation. */
export function forgetBlackCells({ channels, mean, deviation }: Cells): void {
  for (let at = 0; at < mean.length; at += channels) {
    let lit = false;
    for (let c = 0; c < channels; c++) lit ||= (mean[at + c] as number) >= BLACK;
    if (!lit) deviation.fill(Infinity, at, at + channels);
  }
}

function reduceCell(
  samples: Samples, table: Float32Array, cells: Cells, row: number, column: number, channel: number, perSample: Float32Array | undefined, evenDark: number,
): void {
  const { widthPx, heightPx, channels, data, saturatedFrom } = samples;
  const rowEnd = Math.min(heightPx, (row + 1) * CELL_PX);
  const from = column * CELL_PX;
  const to = Math.min(widthPx, from + CELL_PX);
  let sum = 0;
  let squares = 0;
  let full = 0;
  for (let r = row * CELL_PX; r < rowEnd; r++) {
    let at = (r * widthPx + from) * channels + channel;
    for (let c = from; c < to; c++, at += channels) {
      const code = data[at] as number;
      if (code >= saturatedFrom) {
        full++;
        continue;
      }
      let light = table[code] as number;
      if (perSample) light -= perSample[at] as number;
      sum += light;
      squares += light * light;
    }
  }
  const count = (rowEnd - row * CELL_PX) * (to - from);
  const mean = full === count ? (table[saturatedFrom] as number) : sum / (count - full);
  const cell = row * cells.columns + column;
  cells.mean[cell * channels + channel] = mean - evenDark;
  cells.deviation[cell * channels + channel] = full === count ? Infinity : Math.sqrt(Math.max(0, squares / (count - full) - mean * mean));
  cells.saturated[cell] = Math.max(cells.saturated[cell] as number, full / count);
}
