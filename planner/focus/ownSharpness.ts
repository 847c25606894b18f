import { levelOf } from './texture.ts';
import type { EnergyMap, Level } from './texture.ts';

/** A cell shows an edge when its long differences exceed the usual by so many times the cells' scatter (on simulated chips at 10x/0.30 blank frames have none). */
const EDGE_SIGMAS = 20;
/** So many standard errors are taken off the short differences: noise must not look sharp. */
const NOISE_SIGMAS = 3;
/** A frame's sharpest edge from this share of the usual on is sharp. On simulated chips at 10x/0.30, 8 um off a frame has about half of what it has in focus, 30 um off less than a tenth. */
const SHARP_FROM = 0.8;
/** The usual one is the upper quartile of those in which focus was measured: some show nothing but what is soft in itself. */
const USUAL_QUANTILE = 0.75;
/** A frame with so many cells of edges, the sharpest of which is below this share, is blurred rather than bare. */
const BLURRED_BELOW = 0.15;
const BLURRED_CELLS = 8;
/** A blurred frame counts as so many that show nothing sharp. */
const BLURRED_WEIGHT = 3;
/** A run of frames without anything sharp is told when chance alone makes it less often than this. */
const LEAST_CHANCE = 0.02;
/** After a run that was told for nothing the next one must be so much longer: bare places lie together, which chance does not know. */
const PATIENCE_GROWS = 2;
/** Cells that show edges in more than half of so many frames, wherever these were taken, show dust on the sensor: they say nothing of focus. */
const FRAMES_FOR_DUST = 6;

/** What the frames of one chip have shown of their own edges. Plain data. */
export interface EdgeWatch {
  /** Sharpest edges of the frames in which focus was measured. */
  readonly known: readonly number[];
  /** Cells with edges in the frames of late. */
  readonly cells: readonly (readonly number[])[];
  /** Tiles judged, and how many were sharp. */
  readonly frames: number;
  readonly sharp: number;
  /** Tiles since the last sharp one, blurred ones counted more than once. */
  readonly run: number;
  /** Shorter runs are not told. */
  readonly leastRun: number;
}

/** Nothing seen yet. */
export const NO_EDGES: EdgeWatch = { known: [], cells: [], frames: 0, sharp: 0, run: 0, leastRun: 0 };

/** `sharp`: an edge as sharp as those in focus; `dull`: nothing sharp, as bare oxide has it too; `unlikely`: nothing sharp for so long that focus may be lost. */
export type OwnSharpness = 'sharp' | 'dull' | 'unlikely';

/**
 * How much of an edge's long differences the short ones hold, at the sharpest edge of a frame; it falls with blur, whatever the edge (see
 * `watch.ts`). A long difference reaches over an edge from the cell before its own as well: both are taken together, where they hold more than the pairs beside them.
 */
function sharpestEdge({ columns, short, long }: EnergyMap, { usual }: Level, cells: readonly number[]): number {
  const level = levelOf(Array.from(short));
  const pair = (energy: Float32Array, cell: number): number => (energy[cell - 1] ?? 0) + (energy[cell] ?? 0);
  const share = (cell: number): number => (pair(short, cell) - 2 * level.usual - NOISE_SIGMAS * Math.SQRT2 * level.scatter) / (pair(long, cell) - 2 * usual);
  const isWhole = (cell: number): boolean => cell % columns > 0 && pair(long, cell) >= Math.max(pair(long, cell - 1), pair(long, cell + 1));
  return cells.reduce((best, cell) => (isWhole(cell) ? Math.max(best, share(cell)) : best), 0);
}

/** The cells in which a frame shows edges, and the level that their long differences stand out of. */
function edgesIn({ long }: EnergyMap): { readonly level: Level; readonly cells: readonly number[] } {
  const level = levelOf(Array.from(long));
  return { level, cells: [...long.keys()].filter((cell) => (long[cell] ?? 0) - level.usual > EDGE_SIGMAS * level.scatter) };
}

/** Without the cells that show edges wherever the stage stands. */
function withoutDust(cells: readonly number[], earlier: EdgeWatch['cells']): readonly number[] {
  if (earlier.length < FRAMES_FOR_DUST) return cells;
  const times = new Map<number, number>();
  for (const cell of earlier.flat()) times.set(cell, (times.get(cell) ?? 0) + 1);
  return cells.filter((cell) => 2 * (times.get(cell) ?? 0) <= earlier.length);
}

/** A frame in which focus was just measured: its sharpest edge tells what is sharp on this chip, with these optics. */
export function addKnownEdges(watch: EdgeWatch, map: EnergyMap): EdgeWatch {
  const { level, cells } = edgesIn(map);
  const known = cells.length > 0 ? [...watch.known, sharpestEdge(map, level, withoutDust(cells, watch.cells))] : watch.known;
  return { ...watch, known, cells: [...watch.cells, cells].slice(-FRAMES_FOR_DUST) };
}

/**
 * Judges a tile's frame by its own edges alone. One without any says nothing: bare oxide looks the same in any focus. But where every
 * second frame of a chip shows something sharp, ten in a row that do not are more than chance: with the share of sharp frames by Laplace's
 * rule of succession, (sharp + 1) / (frames + 2), such a run is told once chance makes it less often than one in fifty. A chip that is bare
 * for the most part soon has so few sharp frames that its runs are no longer told.
 */
export function watchEdges(watch: EdgeWatch, map: EnergyMap): { readonly watch: EdgeWatch; readonly own: OwnSharpness; readonly isBlurredOrBare: boolean } {
  const { level, cells: seen } = edgesIn(map);
  const cells = withoutDust(seen, watch.cells);
  const next = { ...watch, cells: [...watch.cells, seen].slice(-FRAMES_FOR_DUST), frames: watch.frames + 1 };
  if (watch.known.length === 0) return { watch: next, own: 'dull', isBlurredOrBare: false };
  const share = cells.length > 0 ? sharpestEdge(map, level, cells) / usualEdge(watch.known) : 0;
  if (share >= SHARP_FROM) return { watch: { ...next, sharp: watch.sharp + 1, run: 0 }, own: 'sharp', isBlurredOrBare: false };
  const run = watch.run + (cells.length >= BLURRED_CELLS && share < BLURRED_BELOW ? BLURRED_WEIGHT : 1);
  return { watch: { ...next, run }, own: isLong(run, usualShare(watch), watch.leastRun) ? 'unlikely' : 'dull', isBlurredOrBare: share < BLURRED_BELOW };
}

function usualEdge(known: readonly number[]): number {
  const sorted = [...known].sort((a, b) => a - b);
  return sorted[Math.floor(USUAL_QUANTILE * (sorted.length - 1))] ?? Infinity;
}

/** Share of frames that show something sharp, but for the present run. */
function usualShare({ sharp, frames, run }: EdgeWatch): number {
  return (sharp + 1) / (frames + 2 - Math.min(frames - sharp, run));
}

function isLong(run: number, usual: number, leastRun: number): boolean {
  return run >= leastRun && Math.min(1, 1 - usual) ** run < LEAST_CHANCE;
}

/** Focus was measured, and was where it was thought to be: what came before is no longer held against what comes. */
export function runEnded(watch: EdgeWatch): EdgeWatch {
  const wasLong = isLong(watch.run, usualShare(watch), watch.leastRun);
  return { ...watch, run: 0, leastRun: wasLong ? Math.ceil(PATIENCE_GROWS * watch.run) : watch.leastRun };
}

/** Focus had jumped: tiles taken since say nothing of how often this chip shows something sharp. */
export function runForgotten(watch: EdgeWatch): EdgeWatch {
  return { ...watch, frames: Math.max(watch.sharp, watch.frames - watch.run), run: 0 };
}
