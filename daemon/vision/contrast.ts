import { fillCellRow } from './cellRows.ts';
import { CELL_PX, darkOf } from './cells.ts';
import type { Cells } from './cells.ts';
import type { Samples } from './samples.ts';
import { scratchFloats } from './scratch.ts';
import { cellPlace } from './substrate.ts';
import type { Substrate } from './substrate.ts';
import { valueAt } from './quadratic.ts';

/** The contrast of a whole frame: one plane per channel, C = (R0 - R)/R0 on linear light. Valid until this thread's next frame (see scratch.ts). */
export interface ContrastImage {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly planes: readonly Float32Array[];
  /** 1 where a sample of any channel is at full scale. */
  readonly saturated: Uint8Array;
}

/**
 * Contrast of every sample against the fitted substrate under the flat field. Stray light adds the same level everywhere, a share
 * `flare` of the substrate's, and so is taken off both R and R0: C = (R0 - R) / (R0 (1 - flare)).
 * @param flat relative light per cell, interleaved, or undefined for even light
 */
export function contrastImage(
  samples: Samples, table: Float32Array, dark: Float32Array | readonly number[], flare: readonly number[], cells: Cells, substrate: Substrate, flat?: Float32Array,
): ContrastImage {
  const { widthPx, heightPx, channels } = samples;
  const { even, perSample } = darkOf(dark, samples);
  const planes = substrate.surface.map((quadratic, channel) => {
    const scale = new Float32Array(cells.columns * cells.rows);
    for (let cell = 0; cell < scale.length; cell++) {
      const [x, y] = cellPlace(cells, cell);
      const level = valueAt(quadratic, x, y) * (flat?.[cell * channels + channel] ?? 1);
      scale[cell] = 1 / Math.max(level, 1e-5);
    }
    const plane = scratchFloats(`contrast ${channel}`, widthPx * heightPx);
    fillPlane(samples, table, cells, { channel, scale, gain: 1 / (1 - (flare[channel] ?? 0)), dark: even[channel] as number, perSample }, plane);
    return plane;
  });
  return { widthPx, heightPx, planes, saturated: saturatedMask(samples, cells) };
}

/** 1 where a sample of any channel is saturated; looked for where the cells say that there are any. */
function saturatedMask({ data, channels, widthPx, heightPx, saturatedFrom }: Samples, cells: Cells): Uint8Array {
  const saturated = new Uint8Array(widthPx * heightPx);
  for (let cell = 0; cell < cells.saturated.length; cell++) {
    if (cells.saturated[cell] === 0) continue;
    const column = cell % cells.columns;
    const row = (cell - column) / cells.columns;
    for (let r = row * CELL_PX; r < Math.min(heightPx, (row + 1) * CELL_PX); r++) {
      for (let c = column * CELL_PX; c < Math.min(widthPx, (column + 1) * CELL_PX); c++) {
        const at = r * widthPx + c;
        for (let s = at * channels; s < (at + 1) * channels; s++) if ((data[s] as number) >= saturatedFrom) saturated[at] = 1;
      }
    }
  }
  return saturated;
}

/** What turns the light of one channel into contrast. */
interface Reading {
  readonly channel: number;
  /** 1/R0 of each cell. */
  readonly scale: Float32Array;
  readonly gain: number;
  readonly dark: number;
  readonly perSample: Float32Array | undefined;
}

function fillPlane(samples: Samples, table: Float32Array, cells: Cells, reading: Reading, plane: Float32Array): void {
  const { widthPx, heightPx, channels, data } = samples;
  const { channel, scale, gain, dark, perSample } = reading;
  const grid = { columns: cells.columns, rows: cells.rows, channels: 1, values: scale };
  const line = new Float32Array(widthPx);
  for (let row = 0; row < heightPx; row++) {
    fillCellRow(grid, 0, row, CELL_PX, line);
    let from = row * widthPx * channels + channel;
    let to = row * widthPx;
    if (perSample) {
      for (let col = 0; col < widthPx; col++, from += channels, to++) {
        plane[to] = gain - gain * ((table[data[from] as number] as number) - (perSample[from] as number)) * (line[col] as number);
      }
    } else {
      for (let col = 0; col < widthPx; col++, from += channels, to++) {
        plane[to] = gain - gain * ((table[data[from] as number] as number) - dark) * (line[col] as number);
      }
    }
  }
}
