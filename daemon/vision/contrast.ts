import { CELL_PX, darkReader } from './cells.ts';
import type { Cells } from './cells.ts';
import type { Samples } from './samples.ts';
import { cellPlace } from './substrate.ts';
import type { Substrate } from './substrate.ts';
import { valueAt } from './quadratic.ts';

/** The contrast of a whole frame: one plane per channel, C = (R0 - R)/R0 on linear light. */
export interface ContrastImage {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly planes: readonly Float32Array[];
  /** 1 where a sample of any channel is at full scale. */
  readonly saturated: Uint8Array;
  readonly saturatedCount: number;
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
  const saturated = new Uint8Array(widthPx * heightPx);
  const saturatedCount = markSaturated(samples, saturated);
  const readDark = dark.length === channels ? undefined : darkReader(dark, samples);
  const planes = substrate.surface.map((quadratic, channel) => {
    const scale = new Float32Array(cells.columns * cells.rows);
    for (let cell = 0; cell < scale.length; cell++) {
      const [x, y] = cellPlace(cells, cell);
      const level = valueAt(quadratic, x, y) * (flat?.[cell * channels + channel] ?? 1);
      scale[cell] = 1 / Math.max(level, 1e-5);
    }
    const gain = 1 / (1 - (flare[channel] ?? 0));
    const even = readDark ? 0 : (dark[channel] as number);
    const plane = new Float32Array(widthPx * heightPx);
    fillPlane(samples, table, cells, channel, scale, gain, even, plane);
    if (readDark) addDark(samples, cells, scale, gain, plane, (index) => readDark(index, channel));
    return plane;
  });
  return { widthPx, heightPx, planes, saturated, saturatedCount };
}

function markSaturated(samples: Samples, saturated: Uint8Array): number {
  const { data, channels, fullScale } = samples;
  let count = 0;
  for (let i = 0; i < data.length; i++) {
    if ((data[i] as number) < fullScale) continue;
    const at = channels === 1 ? i : Math.floor(i / 3);
    if (saturated[at] === 0) count++;
    saturated[at] = 1;
  }
  return count;
}

/** Where a sample lies between cell centres: the lower cell and the share of the upper one; beyond the outer centres it extrapolates. */
function between(sample: number, count: number): readonly [number, number] {
  const at = (sample + 0.5) / CELL_PX - 0.5;
  const lower = Math.max(0, Math.min(count - 2, Math.floor(at)));
  return count < 2 ? [0, 0] : [lower, at - lower];
}

/** One row of 1/R0, interpolated bilinearly between cell centres. */
function scaleRow(cells: Cells, scale: Float32Array, row: number, widthPx: number, line: Float32Array): void {
  const [upper, share] = between(row, cells.rows);
  const lower = Math.min(upper + 1, cells.rows - 1);
  for (let c = 0; c < cells.columns - 1 || c === 0; c++) {
    const next = Math.min(c + 1, cells.columns - 1);
    const a = (scale[upper * cells.columns + c] as number) * (1 - share) + (scale[lower * cells.columns + c] as number) * share;
    const b = (scale[upper * cells.columns + next] as number) * (1 - share) + (scale[lower * cells.columns + next] as number) * share;
    const from = c === 0 ? 0 : c * CELL_PX + CELL_PX / 2;
    const to = c >= cells.columns - 2 ? widthPx : (c + 1) * CELL_PX + CELL_PX / 2;
    const step = (b - a) / CELL_PX;
    let value = a + step * (from + 0.5 - (c + 0.5) * CELL_PX);
    for (let x = from; x < to; x++, value += step) line[x] = value;
  }
}

function fillPlane(
  samples: Samples, table: Float32Array, cells: Cells, channel: number, scale: Float32Array, gain: number, dark: number, plane: Float32Array,
): void {
  const { widthPx, heightPx, channels, data } = samples;
  const line = new Float32Array(widthPx);
  for (let row = 0; row < heightPx; row++) {
    scaleRow(cells, scale, row, widthPx, line);
    let from = row * widthPx * channels + channel;
    let to = row * widthPx;
    for (let col = 0; col < widthPx; col++, from += channels, to++) {
      const light = (table[data[from] as number] as number) - dark;
      plane[to] = gain - gain * light * (line[col] as number);
    }
  }
}

/** A dark frame given sample by sample. */
function addDark(samples: Samples, cells: Cells, scale: Float32Array, gain: number, plane: Float32Array, readDark: (index: number) => number): void {
  const line = new Float32Array(samples.widthPx);
  for (let row = 0, to = 0; row < samples.heightPx; row++) {
    scaleRow(cells, scale, row, samples.widthPx, line);
    for (let col = 0; col < samples.widthPx; col++, to++) {
      plane[to] = (plane[to] as number) + gain * readDark(to) * (line[col] as number);
    }
  }
}
