/** Values over the field, one for each cell of a grid whose first cell begins at the first pixel; interleaved channels. */
export interface CellGrid {
  readonly columns: number;
  readonly rows: number;
  readonly channels: number;
  readonly values: Float32Array;
}

/** Where a pixel lies between cell centres: the lower cell and the share of the upper one; beyond the outer centres it extrapolates. */
function between(pixel: number, cellPx: number, count: number): readonly [number, number] {
  if (count < 2) return [0, 0];
  const at = (pixel + 0.5) / cellPx - 0.5;
  const lower = Math.max(0, Math.min(count - 2, Math.floor(at)));
  return [lower, at - lower];
}

/**
 * One row of a grid's values, interpolated bilinearly between cell centres; beyond the outermost centres the slope goes on.
 * @param row of pixels
 * @param cellPx pixels along one side of a cell, not necessarily whole
 * @param line takes the values, one for each pixel of the row
 */
export function fillCellRow(grid: CellGrid, channel: number, row: number, cellPx: number, line: Float32Array): void {
  const { columns, rows, channels, values } = grid;
  const [upper, share] = between(row, cellPx, rows);
  const above = upper * columns * channels + channel;
  const below = Math.min(upper + 1, rows - 1) * columns * channels + channel;
  for (let c = 0; c < columns - 1 || c === 0; c++) {
    const next = Math.min(c + 1, columns - 1);
    const a = (values[above + c * channels] as number) * (1 - share) + (values[below + c * channels] as number) * share;
    const b = (values[above + next * channels] as number) * (1 - share) + (values[below + next * channels] as number) * share;
    const from = c === 0 ? 0 : Math.ceil((c + 0.5) * cellPx - 0.5);
    const to = c >= columns - 2 ? line.length : Math.min(line.length, Math.ceil((c + 1.5) * cellPx - 0.5));
    const step = (b - a) / cellPx;
    let value = a + step * (from + 0.5 - (c + 0.5) * cellPx);
    for (let x = from; x < to; x++, value += step) line[x] = value;
  }
}
