import type { Samples } from './samples.ts';
import { VisionError } from './errors.ts';

/** Side of one cell of the coarse grid, in samples: fine enough for the soft shadows of sensor dust, coarse enough to average noise away. */
export const CELL_PX = 16;

/** A frame reduced to means over square cells; the last column and row may be narrower. */
export interface Cells {
  readonly columns: number;
  readonly rows: number;
  readonly channels: number;
  /** Mean linear light, dark level taken off; rows * columns * channels, interleaved. */
  readonly mean: Float32Array;
  /** Standard deviation of one sample within the cell, same shape. */
  readonly deviation: Float32Array;
  /** Share of samples at full scale, rows * columns. */
  readonly saturated: Float32Array;
}

/** Reads the dark level of a channel at a sample, whichever way it was given. */
export type DarkReader = (index: number, channel: number) => number;

/** @throws VisionError `wrongDark` when the dark level fits neither one number per channel nor one per sample. */
export function darkReader(dark: Float32Array | readonly number[], samples: Samples): DarkReader {
  const { channels, data } = samples;
  if (dark.length === channels) return (_index, channel) => dark[channel] as number;
  if (dark.length === data.length) return (index, channel) => dark[index * channels + channel] as number;
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
  const readDark = darkReader(dark, samples);
  const perSample = dark.length !== channels;
  for (let row = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++) {
      for (let channel = 0; channel < channels; channel++) reduceCell(samples, table, cells, row, column, channel, perSample ? readDark : undefined, readDark(0, channel));
    }
  }
  return cells;
}

function reduceCell(
  samples: Samples, table: Float32Array, cells: Cells, row: number, column: number, channel: number, readDark: DarkReader | undefined, evenDark: number,
): void {
  const { widthPx, heightPx, channels, data, fullScale } = samples;
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
      let light = table[code] as number;
      if (readDark) light -= readDark(r * widthPx + c, channel);
      if (code >= fullScale) full++;
      sum += light;
      squares += light * light;
    }
  }
  const count = (rowEnd - row * CELL_PX) * (to - from);
  const mean = sum / count;
  const cell = row * cells.columns + column;
  cells.mean[cell * channels + channel] = readDark ? mean : mean - evenDark;
  cells.deviation[cell * channels + channel] = Math.sqrt(Math.max(0, squares / count - mean * mean));
  cells.saturated[cell] = Math.max(cells.saturated[cell] as number, full / count);
}
