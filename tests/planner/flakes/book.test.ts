import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addTile, emptyBook, flakesOf, rereadBook } from '../../../planner/flakes/book.ts';
import type { Book } from '../../../planner/flakes/book.ts';
import type { Detection } from '../../../planner/flakes/types.ts';
import { box, context, detection, MEASURED, pose } from './drawn.ts';

interface Seen {
  readonly xUm: number;
  readonly yUm?: number;
  readonly detections: readonly Detection[];
}

function bookOf(tiles: readonly Seen[]): Book {
  return tiles.reduce((book, tile, i) => addTile(book, i, pose(tile.xUm, tile.yUm), tile.detections).book, emptyBook(context));
}

describe('merging over tiles', () => {
  it('keeps a flake once that two frames show whole', () => {
    const book = bookOf([{ xUm: 0, detections: [detection(box(80, 0, 10, 8), 0.09)] }, { xUm: 150, detections: [detection(box(80.4, 0.3, 10, 8), 0.09)] }]);
    const [flake, ...others] = flakesOf(book);
    expect(others).toEqual([]);
    expect(flake?.tiles).toEqual([0, 1]);
    expect(flake?.areaUm2).toBeCloseTo(80, 6);
  });

  it('lets the whole view win over a cut one, whichever comes first', () => {
    const whole = { xUm: 150, detections: [detection(box(85, 0, 30, 12), 0.09)] };
    const cut = { xUm: 0, detections: [detection(box(85, 0, 15, 12), 0.09, true)] };
    for (const tiles of [[cut, whole], [whole, cut]]) {
      const flakes = flakesOf(bookOf(tiles));
      expect(flakes).toHaveLength(1);
      expect(flakes[0]?.areaUm2).toBeCloseTo(360, 6);
      expect(flakes[0]?.bestTile).toBe(tiles.indexOf(whole));
    }
  });

  it('unites a flake that is larger than a frame', () => {
    const book = bookOf([
      { xUm: 0, detections: [detection(box(-20, -10, 120, 20), 0.09, true)] },
      { xUm: 160, detections: [detection(box(60, -10, 200, 20), 0.09, true)] },
      { xUm: 320, detections: [detection(box(220, -10, 70, 20), 0.09, true)] },
    ]);
    const flakes = flakesOf(book);
    expect(flakes).toHaveLength(1);
    expect(flakes[0]?.terraces).toHaveLength(1);
    expect((flakes[0]?.areaUm2 ?? 0) / (310 * 20)).toBeCloseTo(1, 1);
    expect(flakes[0]?.usableUm).toBeGreaterThan(18.5);
  });

  it('joins two pieces under the older name when a view bridges them, and says which name went', () => {
    const book = bookOf([{ xUm: 0, detections: [detection(box(60, -10, 40, 20), 0.09, true)] }, { xUm: 240, detections: [detection(box(140, -10, 40, 20), 0.09, true)] }]);
    expect(flakesOf(book)).toHaveLength(2);
    const change = addTile(book, 2, pose(120), [detection(box(60, -10, 120, 20), 0.09)]);
    expect(change.removed).toEqual(['A-2']);
    expect(flakesOf(change.book).map((f) => f.id)).toEqual(['A-1']);
  });

  it('leaves neighbours apart that only lie close', () => {
    expect(flakesOf(bookOf([{ xUm: 0, detections: [detection(box(70, 0, 8, 8), 0.09)] }, { xUm: 150, detections: [detection(box(79.5, 0, 8, 8), 0.09)] }]))).toHaveLength(2);
  });

  it('registers a tile whose stage was off, by the flakes it shares', () => {
    const places = [[75, -50], [82, 10], [90, 44], [70, 60]] as const;
    const [dx, dy] = [2.4, -1.7];
    const first = places.map(([x, y], i) => detection(box(x, y, 9 + i, 8), 0.09));
    const second = [...places.map(([x, y], i) => detection(box(x - dx, y - dy, 9 + i, 8), 0.09)), detection(box(180 - dx, 0 - dy, 10, 10), 0.175)];
    const book = bookOf([{ xUm: 0, detections: first }, { xUm: 150, detections: second }]);
    expect(flakesOf(book)).toHaveLength(5);
    expect(book.offsets.get(1)?.dxUm).toBeCloseTo(dx, 6);
    const far = flakesOf(book).find((f) => f.tiles.length === 1);
    expect(far?.centreUm.xUm).toBeCloseTo(185, 5);
    // Settled, both tiles share the error, so that the chip stays where the stage saw it on average.
    const settled = rereadBook(book).book;
    expect((settled.offsets.get(0)?.dxUm ?? 0) + (settled.offsets.get(1)?.dxUm ?? 0)).toBeCloseTo(0, 2);
    expect((settled.offsets.get(1)?.dxUm ?? 0) - (settled.offsets.get(0)?.dxUm ?? 0)).toBeCloseTo(dx, 1);
  });

  it('is the same book for the same tiles', () => {
    const place = fc.record({ x: fc.integer({ min: -90, max: 80 }), y: fc.integer({ min: -70, max: 60 }), wide: fc.integer({ min: 4, max: 20 }), layers: fc.integer({ min: 0, max: 3 }) });
    fc.assert(fc.property(fc.array(fc.array(place, { maxLength: 5 }), { minLength: 1, maxLength: 4 }), (tiles) => {
      const seen = tiles.map((places, i) => ({ xUm: 150 * i, detections: places.map((p) => detection(box(150 * i + p.x, p.y, p.wide, 6), MEASURED[p.layers] ?? 0.09)) }));
      expect(JSON.stringify(flakesOf(bookOf(seen)))).toBe(JSON.stringify(flakesOf(bookOf(seen))));
    }), { numRuns: 15 });
  });
});

describe('reading a chip again', () => {
  const staircase = MEASURED.flatMap((c, i) => [0, 1, 2].map((k) => detection(box(-80 + 40 * i, -60 + 30 * k, 10 + k, 10), c)));

  it('counts measured contrasts of one to four layers right, although the table is a third too dark', () => {
    // Ni et al. 2007 (from memory): 0.09, 0.175, 0.255, 0.33; the index table used here gives 45 to 55 % more for its stack.
    const book = rereadBook(bookOf([{ xUm: 0, detections: staircase }])).book;
    const read = flakesOf(book).map((f) => [f.terraces[0]?.contrast[0], f.layers]);
    for (const [contrast, layers] of read) expect(layers).toBe(MEASURED.findIndex((c) => c === contrast) + 1);
  });

  it('reports only what is read otherwise than before', () => {
    const book = rereadBook(bookOf([{ xUm: 0, detections: staircase }])).book;
    expect(rereadBook(book).changed).toEqual([]);
  });

  it('ranks the thinner and the larger higher', () => {
    const book = rereadBook(bookOf([{ xUm: 0, detections: staircase }])).book;
    const flakes = flakesOf(book);
    expect(flakes[0]?.layers).toBe(1);
    expect(flakes[0]?.usableUm).toBeGreaterThanOrEqual(flakes[1]?.usableUm ?? 0);
    const ranks = flakes.map((f) => f.rank);
    expect(ranks).toEqual([...ranks].sort((a, b) => b - a));
  });

  it('keeps dirt apart, with its reason', () => {
    const soft: Detection = { ...detection(box(0, 0, 40, 30), 0.09), reject: 'softEdge' };
    const strange = detection(box(60, 0, 10, 10), 0.3);
    const off: Detection = { ...strange, terraces: strange.terraces.map((t) => ({ ...t, contrast: [-0.3, 0.3, 0.3] })) };
    const book = rereadBook(bookOf([{ xUm: 0, detections: [...staircase, soft, off] }])).book;
    expect(flakesOf(book).filter((f) => f.verdict === 'rejected').map((f) => f.reject)).toEqual(expect.arrayContaining(['offLayerCurve', 'softEdge']));
  });

  it('survives a chip with nothing on it', () => {
    const book = bookOf([{ xUm: 0, detections: [] }]);
    expect(rereadBook(book).changed).toEqual([]);
    expect(flakesOf(book)).toEqual([]);
  });
});
