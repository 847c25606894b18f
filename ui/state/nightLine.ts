import type { ChipView, TileView } from '../../daemon/server/messages.ts';
import { timeOfDay } from '../format.ts';
import type { NightView } from './night.ts';

export interface ChipBar {
  readonly name: string;
  /** Left and right end as a share of the line, 0 to 1. */
  readonly from: number;
  readonly to: number;
  /** Share of the bar that is filled. */
  readonly done: number;
}

/** The night as a line in the header: hours, one bar a chip, a pointer at now. All places are shares of the line, 0 to 1. */
export interface NightLine {
  readonly bars: readonly ChipBar[];
  readonly ticks: readonly { readonly at: number; readonly label: string }[];
  readonly now: number;
  readonly end: number;
  readonly ended: boolean;
  readonly endMs: number;
}

const TICK_STEPS_S = [1, 2, 5, 10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14_400, 21_600];
/** Room to the right of the end, so that the words about it fit and a later end does not move the line. */
const SPARE = 0.16;
const MOST_TICKS = 5;

/** A tile's place in time: the done ones share the time that has passed, the others what is left. */
function timeOfTile(tile: number, done: number, all: number, startMs: number, nowMs: number, endMs: number): number {
  if (tile <= done) return done === 0 ? nowMs : startMs + ((nowMs - startMs) * tile) / done;
  return nowMs + ((endMs - nowMs) * (tile - done)) / Math.max(1, all - done);
}

/** Tiles that are over, done or left out, by chip. */
function tilesOver(tiles: readonly (TileView | undefined)[]): ReadonlyMap<string, number> {
  const over = new Map<string, number>();
  for (const tile of tiles) if (tile && tile.state !== 'planned') over.set(tile.chip, (over.get(tile.chip) ?? 0) + 1);
  return over;
}

function chipBars(chips: readonly ChipView[], over: ReadonlyMap<string, number>, at: (tile: number) => number, share: (ms: number) => number): ChipBar[] {
  let before = 0;
  return chips.map((chip) => {
    const from = share(at(before));
    before += chip.tiles;
    return { name: chip.name, from, to: share(at(before)), done: chip.tiles === 0 ? 1 : Math.min(1, (over.get(chip.name) ?? 0) / chip.tiles) };
  });
}

function hourTicks(startMs: number, spanMs: number): { at: number; label: string }[] {
  const stepS = TICK_STEPS_S.find((step) => spanMs / (step * 1000) <= MOST_TICKS) ?? 43_200;
  const stepMs = stepS * 1000;
  const offsetMs = new Date(startMs).getTimezoneOffset() * 60_000;
  const first = Math.ceil((startMs - offsetMs) / stepMs) * stepMs + offsetMs;
  const ticks = [];
  for (let ms = first; ms <= startMs + spanMs; ms += stepMs) ticks.push({ at: (ms - startMs) / spanMs, label: timeOfDay(ms, stepS < 60) });
  return ticks;
}

/** Lays the line out; `undefined` when nothing has run yet. `startMs` stands in for runs that do not say when they began. */
export function nightLine({ run, progress, tiles }: Pick<NightView, 'run' | 'progress' | 'tiles'>, startMs: number): NightLine | undefined {
  if (!run || !progress) return undefined;
  const ended = progress.state === 'finished' || progress.state === 'failed';
  const begin = Math.min(run.startedAtMs ?? startMs, progress.clockMs);
  const endMs = Math.max(ended ? Math.min(progress.doneAtMs, progress.clockMs) : progress.doneAtMs, begin + 1000);
  const nowMs = Math.min(progress.clockMs, endMs);
  const spanMs = (endMs - begin) / (1 - SPARE);
  const share = (ms: number): number => Math.min(1, Math.max(0, (ms - begin) / spanMs));
  const done = progress.tilesDone + progress.tilesSkipped;
  const at = (tile: number): number => timeOfTile(tile, done, progress.tiles, begin, nowMs, endMs);
  return { bars: chipBars(run.chips, tilesOver(tiles), at, share), ticks: hourTicks(begin, spanMs), now: share(nowMs), end: share(endMs), ended, endMs };
}
