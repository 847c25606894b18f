import { fitLadder } from '../layers/ladder.ts';
import type { ContrastSample, Ladder, LadderContext } from '../layers/types.ts';
import { centroid } from '../geometry/polygon.ts';
import { distanceUm } from '../units/index.ts';
import type { FramePose } from '../units/index.ts';
import type { BookContext } from './context.ts';
import { gather, moveGroup } from './gather.ts';
import type { Group } from './gather.ts';
import { linkTile, offsetFrom, settleOffsets } from './register.ts';
import type { TileLink, TileOffset } from './register.ts';
import type { Detection, Flake } from './types.ts';
import { neighboursOf } from './neighbours.ts';
import { surveyed } from './shape/survey.ts';
import { readFlake } from './verdict.ts';
import { fieldOf, moveDetection, viewOf } from './view.ts';
import type { View } from './view.ts';

export type { BookContext } from './context.ts';

/** Everything found on one chip so far. Immutable: adding a tile makes a new book, and the same tiles in the same order the same book. */
export interface Book {
  readonly context: BookContext;
  readonly groups: readonly Group[];
  readonly flakes: ReadonlyMap<string, Flake>;
  /** Where each tile really lay, against what the stage said. */
  readonly offsets: ReadonlyMap<number, TileOffset>;
  readonly links: readonly TileLink[];
  readonly ladder?: Ladder;
  /** Number of the next new flake. */
  readonly next: number;
}

export interface BookChange {
  readonly book: Book;
  /** Flakes that are new or read otherwise than before. */
  readonly changed: readonly Flake[];
  /** Ids of flakes that turned out to be parts of others. */
  readonly removed: readonly string[];
}

/** Terraces smaller than this do not shape the ladder, um2. */
const SAMPLE_LEAST_UM2 = 12;
/** Nor those more uneven than this. */
const SAMPLE_UNEVEN = 1.6;

/** Numbers of tiles at which the book is read again: often at first, when each flake still moves the ladder. */
const REREAD_AT: readonly number[] = [5, 12, 30, 80, 200, 500, 1200];
/** A flake that settles by less than this has not moved. */
const MOVED_UM = 0.1;
/** Nor has one's clearance changed that changed by less than this. */
const NOTICED_UM = 0.5;

export function emptyBook(context: BookContext): Book {
  return { context, groups: [], flakes: new Map(), offsets: new Map(), links: [], next: 1 };
}

/**
 * Adds one tile's detections: registers the tile on its neighbours, joins what was seen before, and reads new and grown flakes on the
 * ladder as it stands. At some numbers of tiles the whole book is read again ({@link rereadBook}). Tiles must come in the order of
 * their index for a run to be repeatable. What the neighbours decide (clearance, cleanliness) is found for the flakes that this tile
 * changed; a flake whose neighbour is found later learns of it when it changes itself or the book is read again.
 */
export function addTile(book: Book, tile: number, pose: FramePose, detections: readonly Detection[]): BookChange {
  const links = linkTile(tile, detections, viewsNear(book, pose), book.offsets);
  const offset = offsetFrom(links, book.offsets);
  const offsets = new Map(book.offsets).set(tile, offset);
  const field = fieldOf({ ...pose, centreUm: { xUm: pose.centreUm.xUm + offset.dxUm, yUm: pose.centreUm.yUm + offset.dyUm } });
  const views = detections.filter((d) => d.outlineUm.length >= 3).map((d) => viewOf(tile, moveDetection(d, offset.dxUm, offset.dyUm), field));
  const gathered = gather(book.groups, views, book.next, book.context.chip);
  const ladder = book.ladder ?? firstLadder(book.context, detections);
  const flakes = new Map(book.flakes);
  for (const id of gathered.removed) flakes.delete(id);
  const read = ladder ? gathered.changed.map((group) => flakeOf(group, ladder, book.context)) : [];
  for (const flake of read) flakes.set(flake.id, flake);
  const changed = survey(flakes, gathered.groups, read, book.context);
  const grown: Book = { context: book.context, groups: gathered.groups, flakes, offsets, links: [...book.links, ...links], next: gathered.next, ...(ladder ? { ladder } : {}) };
  const removed = gathered.removed.filter((id) => book.flakes.has(id));
  if (!REREAD_AT.includes(offsets.size)) return { book: grown, changed, removed };
  const again = rereadBook(grown);
  const twice = new Set(again.changed.map((f) => f.id));
  return { book: again.book, changed: [...changed.filter((f) => !twice.has(f.id)), ...again.changed], removed };
}

/** Settles where all tiles lie, fits the ladder anew to all flakes of the chip, and reads them and their neighbourhoods again. */
export function rereadBook(before: Book): BookChange {
  const book = settle(before);
  const [channels] = book.groups.flatMap((g) => g.merged.terraces.map((t) => t.contrast.length));
  if (channels === undefined) return { book, changed: [], removed: [] };
  const ladder = fitLadder(ladderContext(book.context, channels), samplesOf(book));
  const flakes = new Map<string, Flake>();
  for (const group of book.groups) flakes.set(group.id, flakeOf(group, ladder, book.context));
  const changed = survey(flakes, book.groups, [...flakes.values()], book.context).filter((flake) => !sameReading(before.flakes.get(flake.id), flake));
  return { book: { ...book, ladder, flakes }, changed, removed: [] };
}

/** Looks at the shape and the neighbourhood of flakes just read, and puts them back with what was found. */
function survey(flakes: Map<string, Flake>, groups: readonly Group[], read: readonly Flake[], context: BookContext): readonly Flake[] {
  if (!read.some((flake) => flake.verdict === 'flagged')) return read;
  const neighbours = neighboursOf(groups, flakes, context.layersTo);
  const outlines = new Map(groups.map((g) => [g.id, g.merged.outlineUm]));
  return read.map((flake) => {
    const whole = surveyed(flake, outlines.get(flake.id) ?? [], neighbours, context.numericalAperture);
    flakes.set(whole.id, whole);
    return whole;
  });
}

/** The book with every tile moved to where all links together put it. */
function settle(book: Book): Book {
  const offsets = settleOffsets([...book.offsets.keys()], book.links);
  const moves = new Map<number, TileOffset>();
  for (const [tile, offset] of offsets) {
    const old = book.offsets.get(tile) ?? { dxUm: 0, dyUm: 0 };
    moves.set(tile, { dxUm: offset.dxUm - old.dxUm, dyUm: offset.dyUm - old.dyUm });
  }
  return { ...book, offsets, groups: book.groups.map((g) => moveGroup(g, moves)) };
}

/** The chip's flakes, most wanted first. */
export function flakesOf(book: Book): readonly Flake[] {
  return [...book.flakes.values()].sort((a, b) => b.rank - a.rank || a.id.localeCompare(b.id));
}

function viewsNear(book: Book, pose: FramePose): readonly View[] {
  const field = fieldOf(pose);
  const xs = field.map((p) => p.xUm);
  const ys = field.map((p) => p.yUm);
  const [left, right, low, high] = [Math.min(...xs) - 10, Math.max(...xs) + 10, Math.min(...ys) - 10, Math.max(...ys) + 10];
  return book.groups.flatMap((g) => g.views.filter((v) => v.box.xMaxUm > left && v.box.xMinUm < right && v.box.yMaxUm > low && v.box.yMinUm < high));
}

function ladderContext(context: BookContext, channels: number): LadderContext {
  const { material, oxideNm, numericalAperture, lamp, bands } = context;
  return { material, oxideNm, numericalAperture, lamp, channels: channels === 1 ? 1 : 3, ...(bands ? { bands } : {}) };
}

function firstLadder(context: BookContext, detections: readonly Detection[]): Ladder | undefined {
  const first = detections.find((d) => d.terraces.length > 0)?.terraces[0];
  return first ? fitLadder(ladderContext(context, first.contrast.length), []) : undefined;
}

/** Contrasts that the ladder is fitted to, the largest terraces first. */
function samplesOf(book: Book): readonly ContrastSample[] {
  return book.groups
    .filter((g) => g.merged.reject === undefined)
    .flatMap((g) => g.merged.terraces)
    .filter((t) => t.areaUm2 >= SAMPLE_LEAST_UM2 && t.unevenness < SAMPLE_UNEVEN && t.saturatedShare < 0.02)
    .sort((a, b) => b.areaUm2 - a.areaUm2);
}

function flakeOf(group: Group, ladder: Ladder, context: BookContext): Flake {
  const { merged } = group;
  return {
    id: group.id,
    chip: context.chip,
    bestTile: group.bestTile,
    tiles: [...new Set(group.views.map((v) => v.tile))].sort((a, b) => a - b),
    centreUm: centroid(merged.outlineUm),
    areaUm2: merged.areaUm2,
    ...readFlake(merged, ladder, context),
  };
}

function sameReading(before: Flake | undefined, after: Flake): boolean {
  if (!before || before.verdict !== after.verdict || before.layers !== after.layers || before.reject !== after.reject) return false;
  if (distanceUm(before.centreUm, after.centreUm) > MOVED_UM || before.terraces.length !== after.terraces.length) return false;
  if (!sameSurroundings(before, after)) return false;
  return before.terraces.every((t, i) => {
    const other = after.terraces[i]?.call;
    return other !== undefined && other.layers === t.call.layers && Math.abs(other.probability - t.call.probability) < 0.005 && other.thicknessNm === t.call.thicknessNm;
  });
}

/** Whether what stands around and lies on a flake is as before, as far as a person would notice. */
function sameSurroundings(before: Flake, after: Flake): boolean {
  const [a, b] = [before.clearance, after.clearance];
  if (a?.nearest !== b?.nearest || Math.abs((a?.gapUm ?? 0) - (b?.gapUm ?? 0)) > NOTICED_UM) return false;
  const [p, q] = [before.cleanliness, after.cleanliness];
  return p?.blemishes === q?.blemishes && Math.abs((p?.share ?? 0) - (q?.share ?? 0)) < 0.005;
}
