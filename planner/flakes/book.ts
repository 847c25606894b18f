import type { Ladder } from '../layers/types.ts';
import { centroid } from '../geometry/polygon.ts';
import type { FramePose } from '../units/index.ts';
import type { BookContext } from './context.ts';
import { gather, moveGroup } from './gather.ts';
import type { Group } from './gather.ts';
import { linkTile, offsetFrom, settleOffsets } from './register.ts';
import type { Seen, TileLink, TileOffset } from './register.ts';
import { keepFlake, readingOf, wholeDetection, wholeFlake, type KeptFlake } from './kept.ts';
import type { Detection, Flake } from './types.ts';
import { neighboursOf } from './neighbours.ts';
import { sameReading } from './sameReading.ts';
import { fitRequest, requestFor } from './samples.ts';
import type { LadderRequest } from './samples.ts';
import { surveyed } from './shape/survey.ts';
import { readFlake } from './verdict.ts';
import { fieldOf, moveDetection, viewOf } from './view.ts';
import type { View } from './view.ts';

export type { BookContext } from './context.ts';
export type { LadderRequest } from './samples.ts';

/** Everything found on one chip so far. Immutable: adding a tile makes a new book, and the same tiles in the same order the same book. */
export interface Book {
  readonly context: BookContext;
  readonly groups: readonly Group[];
  readonly flakes: ReadonlyMap<string, KeptFlake>;
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

/** Numbers of tiles at which the book is read again: often at first, when each flake still moves the ladder. */
const REREAD_AT: readonly number[] = [5, 12, 30, 80, 200, 500, 1200];

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
  const joined = joinTile(book, tile, pose, detections);
  return dueForReread(joined.book) ? afterReread(joined, rereadBook(joined.book)) : joined;
}

/** {@link addTile} that leaves the re-reading to the caller, who asks {@link dueForReread}. */
export function joinTile(book: Book, tile: number, pose: FramePose, detections: readonly Detection[]): BookChange {
  const links = linkTile(tile, detections, seenNear(book, pose), book.offsets);
  const offset = offsetFrom(links, book.offsets);
  const offsets = new Map(book.offsets).set(tile, offset);
  const field = fieldOf({ ...pose, centreUm: { xUm: pose.centreUm.xUm + offset.dxUm, yUm: pose.centreUm.yUm + offset.dyUm } });
  const views = detections.filter((d) => d.outlineUm.length >= 3).map((d) => viewOf(tile, moveDetection(d, offset.dxUm, offset.dyUm), field));
  const gathered = gather(book.groups, views, book.next, book.context.chip);
  const ladder = book.ladder ?? firstLadder(book.context, detections);
  const flakes = new Map(book.flakes);
  for (const id of gathered.removed) flakes.delete(id);
  const read = ladder ? gathered.changed.map((group) => flakeOf(group, ladder, book.context)) : [];
  for (const flake of read) flakes.set(flake.id, keepFlake(flake));
  const changed = survey(flakes, gathered.groups, read, book.context);
  const grown: Book = { context: book.context, groups: gathered.groups, flakes, offsets, links: [...book.links, ...links], next: gathered.next, ...(ladder ? { ladder } : {}) };
  return { book: grown, changed, removed: gathered.removed.filter((id) => book.flakes.has(id)) };
}

/** Whether the book, a tile having just been joined to it, is to be read again now. */
export function dueForReread(book: Book): boolean {
  return REREAD_AT.includes(book.offsets.size);
}

/** What a change and the re-reading after it come to together. */
export function afterReread(change: BookChange, again: BookChange): BookChange {
  const twice = new Set(again.changed.map((f) => f.id));
  const removed = [...change.removed, ...again.removed];
  return { book: again.book, changed: [...change.changed.filter((f) => !twice.has(f.id) && !again.removed.includes(f.id)), ...again.changed], removed };
}

/** Settles where all tiles lie, fits the ladder anew to all flakes of the chip, and reads them and their neighbourhoods again. */
export function rereadBook(before: Book): BookChange {
  const request = ladderRequest(before);
  return rereadWith(before, request && fitRequest(request));
}

/** The first half of {@link rereadBook}: what its ladder is to be fitted to, for a fit in another thread; undefined while nothing was found. */
export function ladderRequest(before: Book): LadderRequest | undefined {
  const { context, groups } = settle(before);
  const channels = channelsOf(groups);
  if (channels === undefined) return undefined;
  return requestFor(context, channels, groups.filter((g) => g.merged.reject === undefined).map((g) => wholeDetection(g.merged).terraces));
}

/** Of the camera, as the first terrace has them. */
function channelsOf(groups: readonly Group[]): number | undefined {
  for (const { merged } of groups) {
    const [terrace] = wholeDetection(merged).terraces;
    if (terrace) return terrace.contrast.length;
  }
  return undefined;
}

/** The second half of {@link rereadBook}: reads all flakes on a ladder. Without one, tiles are settled and no more. */
export function rereadWith(before: Book, ladder: Ladder | undefined): BookChange {
  const book = settle(before);
  if (!ladder) return { book, changed: [], removed: [] };
  const flakes = new Map<string, KeptFlake>();
  for (const group of book.groups) flakes.set(group.id, keepFlake(flakeOf(group, ladder, book.context)));
  const changed: Flake[] = [];
  // One at a time: all of a large chip's flakes whole at once would fill the memory.
  for (const group of book.groups) {
    const kept = flakes.get(group.id);
    const flake = kept && wholeFlake(kept, group.merged);
    const old = before.flakes.get(group.id);
    if (flake) changed.push(...survey(flakes, book.groups, [flake], book.context).filter((each) => !sameReading(old && readingOf(old), each)));
  }
  return { book: { ...book, ladder, flakes }, changed, removed: [] };
}

/** Looks at the shape and the neighbourhood of flakes just read, and puts them back with what was found. */
function survey(flakes: Map<string, KeptFlake>, groups: readonly Group[], read: readonly Flake[], context: BookContext): readonly Flake[] {
  return read.map((flake) => {
    const group = flake.verdict === 'flagged' ? groups.find(({ id }) => id === flake.id) : undefined;
    if (!group) return flake;
    const whole = surveyed(flake, wholeDetection(group.merged).outlineUm, neighboursOf(group.box, groups, flakes, context.layersTo), context);
    flakes.set(whole.id, keepFlake(whole));
    return whole;
  });
}

/** Books are never changed: both halves of a re-reading settle the same one. */
const settled = new WeakMap<Book, Book>();

/** The book with every tile moved to where all links together put it. */
function settle(book: Book): Book {
  const known = settled.get(book) ?? settledBook(book);
  settled.set(book, known);
  return known;
}

function settledBook(book: Book): Book {
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
  const flakes = book.groups.flatMap(({ id, merged }) => {
    const kept = book.flakes.get(id);
    return kept ? [wholeFlake(kept, merged)] : [];
  });
  return flakes.sort((a, b) => b.rank - a.rank || a.id.localeCompare(b.id));
}

function seenNear(book: Book, pose: FramePose): readonly Seen[] {
  const field = fieldOf(pose);
  const xs = field.map((p) => p.xUm);
  const ys = field.map((p) => p.yUm);
  const [left, right, low, high] = [Math.min(...xs) - 10, Math.max(...xs) + 10, Math.min(...ys) - 10, Math.max(...ys) + 10];
  const isNear = ({ box }: Pick<View, 'box'>): boolean => box.xMaxUm > left && box.xMinUm < right && box.yMaxUm > low && box.yMinUm < high;
  return book.groups.flatMap((g) => (isNear(g) ? g.views.filter(isNear).map(({ tile, detection }) => ({ tile, detection: wholeDetection(detection) })) : []));
}

function firstLadder(context: BookContext, detections: readonly Detection[]): Ladder | undefined {
  const first = detections.find((d) => d.terraces.length > 0)?.terraces[0];
  if (!first) return undefined;
  return fitRequest(requestFor(context, first.contrast.length, []));
}

function flakeOf(group: Group, ladder: Ladder, context: BookContext): Flake {
  const merged = wholeDetection(group.merged);
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
