import { describe, expect, it } from 'vitest';
import { addTile, afterReread, dueForReread, emptyBook, flakesOf, joinTile, ladderRequest, rereadBook, rereadWith } from '../../../planner/flakes/book.ts';
import type { Book, BookChange, BookContext } from '../../../planner/flakes/book.ts';
import { recalibrate, recalibrateWith, recalibrationRequest } from '../../../planner/flakes/recalibrate.ts';
import type { Detection, Flake } from '../../../planner/flakes/types.ts';
import { outlineAround } from '../../../planner/flakes/unite.ts';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { areaUm2 } from '../../../planner/geometry/polygon.ts';
import { box, context, detection, MEASURED, pose, terrace } from './drawn.ts';

/** Two, three and four layers of Ni et al. 2007 alone: a chip without one layer, whose ladder the table would rather move by a rung. */
const few: readonly Detection[] = MEASURED.slice(1).map((c, i) => detection(box(-70 + 45 * i, 0, 12 + i, 10), c));
const soft: Detection = { ...detection(box(-80, 50, 20, 15), 0.09), reject: 'softEdge' };
const labels = [{ contrast: MEASURED.slice(1, 2).flatMap((c) => [c, c, 0.05 * c]), contrastError: [0.002, 0.002, 0.002], layers: 3, source: 'raman' as const }];
const labelled: BookContext = { ...context, labelled: labels };

const bookOf = (detections: readonly Detection[], under = context): Book => rereadBook(addTile(emptyBook(under), 0, pose(0), detections).book).book;
const layersOf = (flakes: readonly Flake[]): readonly (number | null)[] => [...flakes].sort((a, b) => a.centreUm.xUm - b.centreUm.xUm).map((f) => f.layers);

describe('recalibrating', () => {
  it('without a new label changes nothing, and finds the ladder of the book that is gone', () => {
    const book = bookOf([...few, soft]);
    const again = recalibrate(flakesOf(book), context, 3);
    expect(again.changed).toEqual([]);
    expect(again.ladder).toEqual(book.ladder);
  });

  it('with a label reads as the book itself would have done, survey and all', () => {
    const book = bookOf([...few, soft]);
    const { changed, ladder } = recalibrate(flakesOf(book), labelled, 3);
    const whole = rereadBook({ ...book, context: labelled });
    expect(ladder).toEqual(whole.book.ladder);
    expect(ladder.labelled).toBe(1);
    expect([...changed].sort((a, b) => a.id.localeCompare(b.id))).toEqual(whole.changed);
    expect(changed.length).toBeGreaterThan(0);
  });

  it('reads the flake that the label was given for as the label says, and the others after it', () => {
    const book = bookOf(few);
    expect(layersOf(flakesOf(book))).toEqual([2, 3, 4]);
    const { changed } = recalibrate(flakesOf(book), labelled, 3);
    expect(changed.find((f) => f.terraces[0]?.contrast[0] === MEASURED[1])?.layers).toBe(3);
    expect(layersOf(changed).every((n, i) => n === null || n > i + 2)).toBe(true);
  });

  it('is undone by taking the label back: exactly the former ladder and the former flakes', () => {
    const book = bookOf([...few, soft]);
    const told = recalibrate(flakesOf(book), labelled, 3);
    const changed = new Map(told.changed.map((f) => [f.id, f]));
    const now = flakesOf(book).map((f) => changed.get(f.id) ?? f);
    const back = recalibrate(now, context, 3);
    expect(back.ladder).toEqual(book.ladder);
    const restored = new Map(back.changed.map((f) => [f.id, f]));
    expect(now.map((f) => restored.get(f.id) ?? f)).toEqual(flakesOf(book));
  });

  it('lets what the frame rejected be, and judges again what was only off the former curve', () => {
    const flakes = flakesOf(bookOf([...few, soft])).map((f): Flake => (f.layers === 3 ? { ...f, verdict: 'rejected', reject: 'offLayerCurve', layers: null, usableUm: 0, rank: 0 } : f));
    const { changed } = recalibrate(flakes, context, 3);
    expect(changed.map((f) => [f.verdict, f.layers, 'reject' in f])).toEqual([['flagged', 3, false]]);
  });

  it('of a chip without flakes gives the ladder of the tables, or of the labels', () => {
    expect(recalibrate([], context, 3)).toEqual({ ladder: fitLadder({ material: 'graphene', oxideNm: 290, numericalAperture: 0.3, lamp: 'halogen', channels: 3 }, []), changed: [] });
    expect(recalibrate([], labelled, 3).ladder.labelled).toBe(1);
  });

  it('in two halves is the same as in one', () => {
    const flakes = flakesOf(bookOf(few));
    const request = structuredClone(recalibrationRequest(flakes, labelled, 3));
    expect(recalibrateWith(flakes, labelled, structuredClone(fitLadder(request.context, request.samples, request.labelled)))).toEqual(recalibrate(flakes, labelled, 3));
  });
});

describe('a re-reading in two halves', () => {
  /** As the daemon does it: the request and the ladder cross to another thread and back. */
  function apart(book: Book): BookChange {
    const request = structuredClone(ladderRequest(book));
    return rereadWith(book, request && structuredClone(fitLadder(request.context, request.samples, request.labelled)));
  }

  it('is the same as in one, tile after tile', () => {
    let [whole, halves] = [emptyBook(context), emptyBook(context)];
    const found = [...MEASURED, ...MEASURED, ...MEASURED].map((c, i) => detection(box(150 * i - 40, 5 * i, 10, 10), c));
    found.forEach((d, i) => {
      const one = addTile(whole, i, pose(150 * i), [d]);
      const joined = joinTile(halves, i, pose(150 * i), [d]);
      const other = dueForReread(joined.book) ? afterReread(joined, apart(joined.book)) : joined;
      expect(other).toEqual(one);
      [whole, halves] = [one.book, other.book];
    });
    expect(whole.ladder?.samples).toBe(12);
  });

  it('asks for nothing while nothing was found', () => {
    const book = joinTile(emptyBook(context), 0, pose(0), []).book;
    expect(ladderRequest(book)).toBeUndefined();
    expect(apart(book)).toEqual(rereadBook(book));
  });

  it('starts a chip with the labels of its path before it has read a single tile again', () => {
    expect(joinTile(emptyBook(labelled), 0, pose(0), few).book.ladder?.labelled).toBe(1);
  });
});

describe('the edge of a whole flake from those of its terraces', () => {
  it('is that of the base where it holds all others', () => {
    const base = box(0, 0, 20, 10);
    expect(outlineAround([terrace(base, 0.09), terrace(box(2, 2, 5, 5), 0.17)])).toBe(base);
    expect(outlineAround([])).toEqual([]);
  });

  it('goes round terraces that stand side by side', () => {
    const area = areaUm2(outlineAround([terrace(box(0, 0, 20, 10), 0.09), terrace(box(20, 0, 8, 10), 0.17)]));
    expect(area / 280).toBeGreaterThan(0.97);
    expect(area / 280).toBeLessThan(1.03);
  });
});
