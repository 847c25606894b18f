import { describe, expect, it } from 'vitest';
import { addTile, emptyBook, flakesOf, rereadBook } from '../../../../planner/flakes/book.ts';
import { keepFlake } from '../../../../planner/flakes/kept.ts';
import { neighboursOf } from '../../../../planner/flakes/neighbours.ts';
import type { Detection, Flake, RejectReason } from '../../../../planner/flakes/types.ts';
import { box, context, detection, pose } from '../drawn.ts';

/** Frames 200 um wide: the second tile's field overlaps the first's by 50 um. */
const flake = detection(box(60, 0, 20, 12), 0.09);
const dirt = (xUm: number, reject: RejectReason): Detection => ({ ...detection(box(xUm, 0, 10, 12), 0.5), reject });

const firstTile = addTile(emptyBook(context), 0, pose(0), [flake]).book;
const gapOf = (book: typeof firstTile): number | undefined => flakesOf(book).find((f) => f.verdict === 'flagged')?.clearance?.gapUm;

describe('a flake and what is found around it later', () => {
  it('learns of residue in a later tile when the book is read again, and the change is told', () => {
    expect(gapOf(firstTile)).toBe(250);
    const later = addTile(firstTile, 1, pose(190), [dirt(120, 'softEdge')]);
    expect(gapOf(later.book)).toBe(250);
    const again = rereadBook(later.book);
    expect(gapOf(again.book)).toBeCloseTo(40, 6);
    expect(again.changed.map((f) => f.verdict)).toContain('flagged');
    expect(rereadBook(again.book).changed).toEqual([]);
  });

  it('learns of what the same tile shows at once', () => {
    expect(gapOf(addTile(emptyBook(context), 0, pose(0), [flake, dirt(85, 'unevenInside')]).book)).toBeCloseTo(5, 6);
  });

  it('keeps clear of thick flakes and dirt, but not of thin flakes or dust on the sensor; a scratch only lies on things', () => {
    const { book } = addTile(firstTile, 1, pose(190), [dirt(120, 'softEdge')]);
    const found = flakesOf(book).find((f) => f.verdict === 'flagged');
    const group = book.groups.find(({ id }) => id === found?.id);
    if (!found || !group) throw new Error('no flake');
    const read = (layers: number | null, verdict: Flake['verdict'], reject?: RejectReason): Flake =>
      ({ ...found, verdict, layers, ...(reject ? { reject } : {}), terraces: found.terraces.map((t) => ({ ...t, call: { ...t.call, layers } })) });
    const as = (flake: Flake): readonly (readonly [boolean, boolean])[] => neighboursOf(group.box, book.groups, new Map([[flake.id, keepFlake(flake)]]), 4).map((n) => [n.isDirt, n.stands]);
    expect(as(read(null, 'thick'))).toEqual([[false, true]]);
    expect(as(read(7, 'thick'))).toEqual([[false, true]]);
    expect(as(read(1, 'flagged'))).toEqual([]);
    expect(as(read(1, 'rejected', 'softEdge'))).toEqual([[true, true]]);
    expect(as(read(1, 'rejected', 'line'))).toEqual([[true, false]]);
    expect(as(read(null, 'rejected', 'tooBright'))).toEqual([[false, true]]);
    expect(as(read(1, 'rejected', 'sensorDust'))).toEqual([]);
  });

  it('gives the same flakes, byte for byte, for the same tiles', () => {
    const run = (): string => JSON.stringify(flakesOf(rereadBook(addTile(firstTile, 1, pose(190), [dirt(120, 'softEdge')]).book).book));
    expect(run()).toBe(run());
  });
});
