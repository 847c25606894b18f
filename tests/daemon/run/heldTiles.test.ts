import { describe, expect, it } from 'vitest';
import { HeldTiles, type TakenTile } from '../../../daemon/run/heldTiles.ts';
import type { Tile } from '../../../planner/plan/types.ts';

/** Protects: no tile is handed on twice or forgotten while focus is in doubt, none waits without bound, and what is to be taken again comes in order. */

const tileOf = (index: number): Tile => ({ index, chip: 'A', row: 0, column: index, centreUm: { xUm: index, yUm: 0 } });
const taken = (index: number, bytes = 100): TakenTile => ({
  tile: tileOf(index),
  exposed: { frame: { data: new Uint8Array(bytes), widthPx: bytes, heightPx: 1, pixelFormat: 'mono8', bits: 8, takenAtMs: 0, exposureMs: 8 } },
  pose: { centreUm: { xUm: index, yUm: 0 }, cameraToStageUm: [1, 0, 0, 1], widthPx: bytes, heightPx: 1 },
  zUm: 1000,
  focus: { slices: [], isSharp: true, sharpShare: 1, worstUm: 0 },
});
const indicesOf = (some: readonly { readonly tile: Tile }[]): readonly number[] => some.map(({ tile }) => tile.index);
const holding = (...indices: readonly number[]): HeldTiles => {
  const held = new HeldTiles();
  for (const index of indices) held.hold(taken(index));
  return held;
};

describe('tiles that wait for proof', () => {
  it('are handed on once, in order, when a later one is proven', () => {
    const held = holding(1, 2, 3);
    expect(held.letGo()).toEqual([]);
    held.prove();
    held.hold(taken(4));
    expect(indicesOf(held.letGo())).toEqual([1, 2, 3]);
    expect(held.unproven).toEqual([4]);
  });

  it('are taken again when focus had jumped, but for those that were proven before', () => {
    const held = holding(1);
    held.prove();
    held.hold(taken(2));
    held.hold(taken(3));
    held.owe();
    expect(held.upTo(tileOf(4)).map(({ index }) => index)).toEqual([2, 3, 4]);
    // The present tile may be among them: it is taken once.
    expect(held.upTo(tileOf(3)).map(({ index }) => index)).toEqual([2, 3]);
    expect(indicesOf(held.letGo())).toEqual([1]);
    held.hold(taken(2));
    expect(held.unproven).toEqual([3, 2]);
  });

  it('are forgotten when they fail or are left out', () => {
    const held = holding(1, 2);
    held.prove();
    held.drop(1);
    expect(indicesOf(held.letGo())).toEqual([2]);
    const owing = holding(5);
    owing.owe();
    owing.drop(5);
    expect(owing.empty()).toEqual({ held: [], owed: [] });
  });

  it('are bounded in number and in memory: the oldest go on', () => {
    const held = holding(...Array.from({ length: 40 }, (_, n) => n));
    expect(indicesOf(held.letGo())).toEqual([0, 1, 2, 3, 4, 5, 6, 7]);
    const large = new HeldTiles();
    for (let n = 0; n < 4; n++) large.hold(taken(n, 80_000_000));
    expect(indicesOf(large.letGo())).toEqual([0, 1]);
  });
});
