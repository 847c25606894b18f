import { median } from '../units/median.ts';

/** One frame's samples, one channel of them being looked at. */
export interface Samples {
  readonly data: Uint8Array | Uint16Array;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: number;
}

/** Mean squared differences of samples a short and a long way apart, cell by cell, row by row, over the frame's mean squared, so that they do not follow the lamp. */
export interface EnergyMap {
  readonly columns: number;
  readonly rows: number;
  readonly short: Float32Array;
  readonly long: Float32Array;
}

/** A place in a frame, as shares of its sides from its upper left corner. */
export interface EdgePlace {
  readonly right: number;
  readonly down: number;
}

/** Samples compared are so far apart. */
const SHORT_PX = 2;
const LONG_PX = 16;
const EVERY_ROW = 4;
/** A block has edges when its long differences exceed the usual by this factor (common practice, no source). */
const STANDS_OUT = 2;
/** Side of the blocks in which edges are looked for. */
const BLOCK_PX = 64;

/**
 * What tells a frame's edges from its noise, cell by cell. Each sample is the median of itself and its neighbours in the row, so that the
 * camera's hot and dead samples, which are as sharp in any focus, do not count. Looks at every fourth row of a frame that has many.
 */
export function energyMap({ data, widthPx, heightPx, channels }: Samples, cellPx: number): EnergyMap {
  const columns = Math.max(1, Math.floor(widthPx / cellPx));
  const rows = Math.max(1, Math.floor(heightPx / cellPx));
  const short = new Float32Array(columns * rows);
  const long = new Float32Array(columns * rows);
  const counts = new Float32Array(columns * rows);
  const line = new Float32Array(widthPx);
  let [total, samples] = [0, 0];
  for (let y = 0; y < heightPx; y += heightPx >= BLOCK_PX ? EVERY_ROW : 1) {
    medianLine(data, y * widthPx * channels + (channels >> 1), channels, line);
    const above = Math.min(rows - 1, Math.floor((y * rows) / heightPx)) * columns;
    for (let x = 0; x < widthPx - LONG_PX; x++) {
      const here = line[x] as number;
      const near = (line[x + SHORT_PX] as number) - here;
      const far = (line[x + LONG_PX] as number) - here;
      const cell = above + Math.floor((x * columns) / widthPx);
      short[cell] = (short[cell] as number) + near * near;
      long[cell] = (long[cell] as number) + far * far;
      counts[cell] = (counts[cell] as number) + 1;
      total += here;
      samples++;
    }
  }
  const scale = total > 0 ? (samples / total) ** 2 : 0;
  for (let i = 0; i < counts.length; i++) {
    const share = scale / Math.max(1, counts[i] as number);
    short[i] = (short[i] as number) * share;
    long[i] = (long[i] as number) * share;
  }
  return { columns, rows, short, long };
}

/** One row, each sample the median of three. */
function medianLine(data: Uint8Array | Uint16Array, start: number, stride: number, line: Float32Array): void {
  const last = line.length - 1;
  for (let x = 0; x <= last; x++) {
    const a = data[start + Math.max(0, x - 1) * stride] as number;
    const b = data[start + x * stride] as number;
    const c = data[start + Math.min(last, x + 1) * stride] as number;
    line[x] = a > b ? (b > c ? b : a > c ? c : a) : a > c ? a : b > c ? c : b;
  }
}

/**
 * The middle of the block whose edges stand out most in its frame, as shares of the frame's sides; undefined where none do. Long
 * differences outlive a blur that leaves nothing of the short ones.
 * @param except places of the frame that are passed over: what is there belongs to the camera
 */
export function strongestEdges(samples: Samples, except: readonly EdgePlace[] = []): EdgePlace | undefined {
  return strongestBlock(energyMap(samples, BLOCK_PX), except);
}

/** The same from a frame's map in smaller cells, which are put together to blocks; with how far it stands out, in times the usual. */
export function strongestEdgesIn(map: EnergyMap, cellPx: number): (EdgePlace & { readonly strength: number }) | undefined {
  return strongestBlock(inBlocks(map, Math.round(BLOCK_PX / cellPx)), []);
}

function strongestBlock({ columns, rows, long }: Pick<EnergyMap, 'columns' | 'rows' | 'long'>, except: readonly EdgePlace[]): (EdgePlace & { readonly strength: number }) | undefined {
  const placeOf = (i: number): EdgePlace => ({ right: ((i % columns) + 0.5) / columns, down: (Math.floor(i / columns) + 0.5) / rows });
  const isOpen = (i: number): boolean => !except.some(({ right, down }) => Math.abs(placeOf(i).right - right) * columns < 1.5 && Math.abs(placeOf(i).down - down) * rows < 1.5);
  let best: number | undefined;
  long.forEach((value, i) => {
    if ((best === undefined || value > (long[best] as number)) && isOpen(i)) best = i;
  });
  if (best === undefined) return undefined;
  const strength = (long[best] as number) / median(long);
  return strength > STANDS_OUT ? { ...placeOf(best), strength } : undefined;
}

/** Long differences of squares of so many cells a side; what is left over at the far edges is left out. */
function inBlocks({ columns, rows, long }: EnergyMap, side: number): Pick<EnergyMap, 'columns' | 'rows' | 'long'> {
  const across = Math.max(1, Math.floor(columns / side));
  const along = Math.max(1, Math.floor(rows / side));
  const blocks = new Float32Array(across * along);
  for (let row = 0; row < Math.min(rows, along * side); row++) {
    for (let column = 0; column < Math.min(columns, across * side); column++) {
      const block = Math.floor(row / side) * across + Math.floor(column / side);
      blocks[block] = (blocks[block] as number) + (long[row * columns + column] as number);
    }
  }
  return { columns: across, rows: along, long: blocks };
}

/** What a cell holds without any edge, and how much that scatters. */
export interface Level {
  readonly usual: number;
  readonly scatter: number;
}

/** The level of cells most of which hold no edge. */
export function levelOf(energies: readonly number[]): Level {
  const usual = median(energies);
  // Of normal scatter the median distance from the median is 0.67 standard deviations.
  return { usual, scatter: median(energies.map((energy) => Math.abs(energy - usual))) / 0.67 };
}
