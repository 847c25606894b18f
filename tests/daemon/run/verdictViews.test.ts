import { describe, expect, it } from 'vitest';
import type { VerdictRecord } from '../../../daemon/records/types.ts';
import { NightBoard } from '../../../daemon/run/board.ts';
import { calibrationOf } from '../../../daemon/run/calibration.ts';
import { terraceOf, verdictViews } from '../../../daemon/run/verdictViews.ts';
import type { FlakeView, RunView } from '../../../daemon/server/messages.ts';
import type { Flake, Terrace } from '../../../planner/flakes/types.ts';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import type { Ladder } from '../../../planner/layers/types.ts';
import type { StagePoint } from '../../../planner/units/index.ts';
import { ShelfInMemory } from '../../support/flakeShelf.ts';

/** Protects: what was said of a place stays with that place, whatever becomes of terraces and flakes. */

const square = (x: number, y: number, side: number): readonly StagePoint[] => [{ xUm: x, yUm: y }, { xUm: x + side, yUm: y }, { xUm: x + side, yUm: y + side }, { xUm: x, yUm: y + side }];

function terrace(outlineUm: readonly StagePoint[]): Terrace {
  const call = { layers: 1, probability: 1, probabilities: [0, 1], misfit: 1 };
  return { outlineUm, areaUm2: 1, contrast: [0.1], contrastError: [0.01], edgeWidthRatio: 1, unevenness: 1, inscribedUm: 1, inscribedCentreUm: { xUm: 0, yUm: 0 }, saturatedShare: 0, call };
}

function flake(id: string, ...outlines: readonly (readonly StagePoint[])[]): Flake {
  return { id, chip: 'A', bestTile: 0, tiles: [0], centreUm: { xUm: 0, yUm: 0 }, terraces: outlines.map(terrace), verdict: 'flagged', layers: 1, usableUm: 1, areaUm2: 1, rank: 1 };
}

function verdict(flakeId: string, terraceIndex: number, atUm: StagePoint, more: Partial<VerdictRecord> = {}): VerdictRecord {
  const under = { opticalPath: 'p', material: 'graphene', substrate: 'sio2-si', oxideNm: 290 };
  return { seq: 1, flakeId, chip: 'A', terrace: terraceIndex, atUm, contrast: [0.1], contrastError: [0.01], predictedLayers: 1, predictedProbability: 0.9, layers: 2, source: 'afm', initials: 'm.o.', atMs: 1, under, ...more };
}

const [base, top] = [square(0, 0, 20), square(2, 2, 5)];

describe('the terrace that a verdict speaks of', () => {
  it('is the one it was given to while the place lies on it, though a smaller one lies there too', () => {
    expect(terraceOf(flake('f', base, top), 0, { xUm: 4, yUm: 4 })).toBe(0);
    expect(terraceOf(flake('f', base, top), 1, { xUm: 4, yUm: 4 })).toBe(1);
  });

  it('is found by its place when terraces have changed their order or number, and by its index when the place is gone', () => {
    expect(terraceOf(flake('f', square(50, 0, 9), base, top), 0, { xUm: 4, yUm: 4 })).toBe(2);
    expect(terraceOf(flake('f', base), 1, { xUm: 4, yUm: 4 })).toBe(0);
    expect(terraceOf(flake('f', base, top), 1, { xUm: 99, yUm: 99 })).toBe(1);
    expect(terraceOf(flake('f', base), 1, { xUm: 99, yUm: 99 })).toBeUndefined();
  });

  it('shows the last that was said of it, and nothing that was taken back', () => {
    const at = { xUm: 10, yUm: 10 };
    const all = [verdict('f', 0, at), verdict('f', 0, at, { layers: 3 }), verdict('f', 1, { xUm: 4, yUm: 4 }, { withdrawnAtMs: 5 })];
    expect(verdictViews(flake('f', base, top), all).map(({ terrace: index, layers }) => [index, layers])).toEqual([[0, 3]]);
  });
});

describe('the board', () => {
  const run: RunView = {
    runId: 'r', title: 't', operator: 'm.o.', instrument: 'i', opticalPath: 'p', simulated: true, fieldWidthUm: 1, fieldHeightUm: 1, frameWidthPx: 1, frameHeightPx: 1,
    cameraToStageUm: [1, 0, 0, 1], chips: [], ladders: {}, calibrations: {}, light: { lamp: 'halogen', numericalAperture: 0.3, filter: 'none', pixelUm: 1 },
  };
  const view = (of: Flake): FlakeView => ({ flake: of, chipXUm: 0, chipYUm: 0 });

  it('keeps what was said when a flake is read again, and moves it on when its flake is merged into another', () => {
    const board = new NightBoard();
    const shelf = new ShelfInMemory([view(flake('small', top)), view(flake('other', square(90, 90, 5)))]);
    board.show(run, [], shelf, []);
    board.setVerdicts([verdict('small', 0, { xUm: 4, yUm: 4 })]);
    expect(board.flake('small')?.verdicts?.length).toBe(1);
    const again = { ...flake('small', top), rank: 7 };
    shelf.put(view(again));
    board.rereadFlakes([again]);
    expect(board.flake('small')).toMatchObject({ flake: { rank: 7 }, verdicts: [{ layers: 2 }] });
    shelf.take('small');
    board.setFlakes(shelf.put(view(flake('merged', base, top))), ['small']);
    expect(board.flake('merged')?.verdicts?.map((each) => each.terrace)).toEqual([0]);
    expect(board.flake('other')?.verdicts).toBeUndefined();
    board.setVerdicts([]);
    expect(board.flake('merged')?.verdicts).toBeUndefined();
  });

  it('counts anew what is flagged after a reading outside the run, also in the sentence about a night that is over', () => {
    const board = new NightBoard();
    const shelf = new ShelfInMemory([view(flake('a', base)), view(flake('b', top))]);
    board.show(run, [], shelf, []);
    board.showEnded('finished', 9);
    const again = { ...flake('b', top), verdict: 'thick' as const };
    shelf.put(view(again));
    board.rereadFlakes([again]);
    expect(board.snapshot().progress).toMatchObject({ flagged: 1, sentence: 'Done: 0 of 0 tiles, 1 flake flagged.' });
  });
});

describe('the calibration of a ladder', () => {
  it('is the mean over all ways in which it may stand, with the spread of the oxide', () => {
    const plain = fitLadder({ material: 'graphene', oxideNm: 290, numericalAperture: 0.3, lamp: 'halogen', channels: 3 }, []);
    const [first] = plain.hypotheses;
    if (!first) throw new Error('no hypothesis');
    const at = (oxideNm: number, scale: number, weight: number): Ladder['hypotheses'][number] => ({ ...first, weight, setting: { ...first.setting, oxideNm, scale: [scale, 1, 1] } });
    // By hand: 0.75 * 284 + 0.25 * 292 = 286; spread sqrt(0.75 * 4 + 0.25 * 36) = sqrt(12); scale 0.75 * 0.9 + 0.25 * 1.1 = 0.95.
    expect(calibrationOf({ ...plain, hypotheses: [at(284, 0.9, 0.75), at(292, 1.1, 0.25)], samples: 16, labelled: 2 })).toEqual({
      terraces: 14, labels: 2, oxideNm: expect.closeTo(286, 9), oxideErrorNm: expect.closeTo(Math.sqrt(12), 9), scale: [expect.closeTo(0.95, 9), expect.closeTo(1, 9), expect.closeTo(1, 9)],
    });
  });
});
