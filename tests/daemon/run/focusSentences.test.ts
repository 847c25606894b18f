import { describe, expect, it } from 'vitest';
import { driftSentence, stepSentence, tiltSentence, warmUpSentence } from '../../../daemon/run/focusSentences.ts';
import { beginDrift } from '../../../planner/focus/drift.ts';
import { frameFocus } from '../../../planner/focus/frameFocus.ts';
import { fitFocusSurface, type FocusSurface } from '../../../planner/focus/surface.ts';
import type { PlannedChip } from '../../../planner/plan/types.ts';

/** Protects: what people are told of focus says what it is, by how much, and what to do. */

const tile = (index: number) => ({ index, chip: 'K-07', row: 0, column: index, centreUm: { xUm: 2500 + index, yUm: 2500 } });
const chip: PlannedChip = { name: 'K-07', outlineUm: [], scannedUm: [], focusPointsUm: [], tiles: Array.from({ length: 20 }, (_, i) => tile(40 + i)), areaMm2: 1 };
const surfaceOf = (xMrad: number, yMrad: number): FocusSurface => {
  const points = [[0, 0], [5000, 0], [0, 5000], [5000, 5000]].map(([x = 0, y = 0]) => ({ atUm: { xUm: x, yUm: y }, zUm: (xMrad * x + yMrad * y) / 1000, errorUm: 0.05 }));
  const fitted = fitFocusSurface(points);
  if (!fitted.ok) throw new Error(fitted.refusal.code);
  return fitted.surface;
};
const bears = { fieldDiagonalUm: 1101, errorUm: 0.1, depthOfFieldUm: 5.83 };
const told = (xMrad: number, yMrad: number, most = 4): string | undefined => {
  const surface = surfaceOf(xMrad, yMrad);
  const pose = (centreUm: { xUm: number; yUm: number }) => ({ centreUm, cameraToStageUm: [0.345, 0, 0, -0.345] as const, widthPx: 2448, heightPx: 2048 });
  return tiltSentence(surface, chip, chip.tiles.map(({ centreUm }) => frameFocus(surface, pose(centreUm), 0, 0.1, 5.83, most)), bears, most > 1);
};

describe('what is told', () => {
  it('of a level chip is nothing', () => {
    expect(told(1, -1)).toBeUndefined();
  });

  it('of a tilted chip is which axis, how much, what a frame bears, what to level, and what is done until then', () => {
    // 6 mrad along x are 60 um over 10 mm; a frame bears (5.83 - 0.2)/1101 = 5.1 mrad, and at 7.2 mrad 5.63/7.2 mm = 781 um are in focus at once.
    const sentence = told(6, -4);
    expect(sentence).toContain('rises by 6 mrad along x and falls by 4 mrad along y');
    expect(sentence).toContain('bears 5.1 mrad');
    expect(sentence).toContain('781 of 1101 µm');
    expect(sentence).toContain('(60 µm along x and 40 µm along y over 10 mm)');
    expect(sentence).toContain('20 of 20 tiles are taken at 2 heights');
  });

  it('of a tilted chip whose frames are not divided is the share in focus', () => {
    expect(told(10, 0, 1)).toMatch(/20 of 20 tiles are in focus over 67 % of their area only\.$/);
  });

  it('of a jump is how far, and which tiles are in doubt, counted as a person counts', () => {
    expect(stepSentence(-8.13, [41, 45, 46, 47], [], chip)).toBe('focus jumped by −8.1 µm; the surface is moved along. Taken since focus was last seen to be right, and perhaps out of focus: 4 tiles (2, 6 to 8).');
    expect(stepSentence(3, [], [41, 42], chip)).toContain('No tile was lost. Taken again: 2 tiles (2 to 3).');
  });

  it('of drift is its rate with its error, and of warm-up how long it takes', () => {
    expect(driftSentence({ ...beginDrift(0, 0.1), rateUmPerH: -6.84, rateVariance: 0.25 }, 120, 60)).toMatch(/−6\.8 ± 0\.5 µm an hour, measured over 120 s.*60 min/);
    expect(warmUpSentence(60)).toContain('60 min');
    expect(warmUpSentence(0)).toBeUndefined();
  });
});
