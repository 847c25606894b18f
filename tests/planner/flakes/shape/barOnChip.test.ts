import { describe, expect, it } from 'vitest';
import { barMayFit, barThatFits, dirtOn } from '../../../../planner/flakes/shape/barOnChip.ts';
import type { Flake, RejectReason, Terrace } from '../../../../planner/flakes/types.ts';
import type { StagePoint } from '../../../../planner/units/index.ts';

/** Protects: a wanted bar is found on the part that counts, clear of dirt, and never ruled out where it fits. Sizes are worked out by hand. */

const box = (x: number, y: number, w: number, h: number): readonly StagePoint[] => [{ xUm: x, yUm: y }, { xUm: x + w, yUm: y }, { xUm: x + w, yUm: y + h }, { xUm: x, yUm: y + h }];

function terrace(outlineUm: readonly StagePoint[], areaUm2: number, inscribedUm: number, layers: number): Terrace {
  const probabilities = Array.from({ length: 12 }, (_, n) => (n === layers ? 1 : 0));
  return { outlineUm, areaUm2, contrast: [0.1], contrastError: [0.01], edgeWidthRatio: 1, unevenness: 1, inscribedUm, inscribedCentreUm: { xUm: 0, yUm: 0 }, saturatedShare: 0, call: { layers, probability: 1, probabilities, misfit: 1 } };
}

function flake(id: string, terraces: readonly Terrace[], more: Partial<Flake> = {}): Flake {
  return { id, chip: 'A', bestTile: 0, tiles: [0], centreUm: { xUm: 0, yUm: 0 }, terraces, verdict: 'flagged', layers: 1, usableUm: 8, areaUm2: 1, rank: 1, ...more };
}

const rejected = (id: string, outlineUm: readonly StagePoint[], reject: RejectReason, chip = 'A'): Flake => flake(id, [terrace(outlineUm, 1, 1, 1)], { verdict: 'rejected', reject, chip });

// 30 by 10 um: a bar of 20 by 5 fits, one of 20 by 11 or 32 by 2 does not (the diagonal of 31.6 um is no room for a bar with a width).
const strip = flake('s', [terrace(box(0, 0, 30, 10), 300, 10, 1)]);

describe('a wanted bar', () => {
  it('fits where there is room for it', () => {
    expect(barThatFits(strip, [], 20, 5)?.fits).toBe(true);
    expect(barThatFits(strip, [], 5, 20)?.fits).toBe(true);
    expect(barThatFits(strip, [], 20, 11)).toBeUndefined();
    expect(barThatFits(strip, [], 32, 2)).toBeUndefined();
  });

  it('is looked for on the part that counts only', () => {
    const two = flake('t', [terrace(box(0, 0, 60, 40), 2400, 40, 3), terrace(box(5, 5, 8, 8), 64, 8, 1)]);
    expect(barThatFits(two, [], 20, 5)).toBeUndefined();
    expect(barThatFits(two, [], 7, 3)?.terrace).toBe(1);
    expect(barThatFits({ ...two, layers: null }, [], 1, 1)).toBeUndefined();
  });

  it('keeps clear of dirt on the flake, and of nothing else', () => {
    const across = box(14, -1, 2, 12);
    // A band of dust across the middle leaves two halves of 14 um.
    const dust = rejected('d', box(14, 0.5, 2, 9), 'dark');
    expect(barThatFits(strip, [dust], 20, 5)).toBeUndefined();
    expect(barThatFits(strip, [dust], 12, 5)?.fits).toBe(true);
    for (const harmless of [rejected('e', across, 'sensorDust'), rejected('f', across, 'chipEdge'), rejected('g', across, 'dark', 'B'), rejected('h', box(40, 0, 2, 9), 'dark')]) {
      expect(dirtOn(strip, [harmless, strip])).toEqual([]);
    }
  });

  it('is ruled out unseen only by what a circle and an area cannot hold', () => {
    expect(barMayFit(strip, 20, 5)).toBe(true);
    expect(barMayFit(strip, 20, 12)).toBe(false);
    expect(barMayFit(strip, 100, 5)).toBe(false);
  });
});
