import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { areaUm2, containsPoint, distanceToEdgeUm } from '../../../planner/geometry/polygon.ts';
import { focusExposures, searchSeconds } from '../../../planner/focus/exposures.ts';
import { outlinePolygon } from '../../../planner/plan/outline.ts';
import { MAX_TILES, planScan } from '../../../planner/plan/planScan.ts';
import type { Outline, PlanRefusal, ScanPlan } from '../../../planner/plan/types.ts';
import { distanceUm } from '../../../planner/units/index.ts';
import { at, chip, limits, request, square, starOutline, timing } from './requests.ts';

const polygon = (...cornersUm: ReturnType<typeof at>[]): Outline => ({ shape: 'polygon', cornersUm });
const refusalsOf = (...args: Parameters<typeof request>): readonly PlanRefusal[] => {
  const result = planScan(request(...args));
  return result.ok ? [] : result.refusals;
};
function planOf(...args: Parameters<typeof request>): ScanPlan {
  const result = planScan(request(...args));
  if (!result.ok) throw new Error(JSON.stringify(result.refusals));
  return result.plan;
}

describe('outlines as polygons', () => {
  it('turns a rectangle about its middle, starting at its lowest local corner', () => {
    const corners = outlinePolygon({ shape: 'rectangle', centreUm: at(100, 200), widthUm: 40, heightUm: 20, angleDeg: 90 });
    const expected = [at(110, 180), at(110, 220), at(90, 220), at(90, 180)];
    corners.forEach((corner, i) => expect(distanceUm(corner, expected[i] ?? at(NaN, NaN))).toBeLessThan(1e-9));
  });

  it('loses nothing of a circle and adds less than 0.1 %', () => {
    const corners = outlinePolygon({ shape: 'circle', centreUm: at(0, 0), radiusUm: 1000 });
    expect(distanceToEdgeUm(corners, at(0, 0))).toBeCloseTo(1000, 6);
    expect(areaUm2(corners) / (Math.PI * 1e6)).toBeLessThan(1.001);
  });
});

describe('a sound plan', () => {
  it('counts tiles over chips, in the order of the route', () => {
    const plan = planOf([chip(square(3000, at(20_000, 20_000)), 'A'), chip(square(2000, at(30_000, 20_000)), 'B')]);
    const indices = plan.chips.flatMap((one) => one.tiles.map((tile) => tile.index));
    expect(indices).toEqual(Array.from({ length: plan.tileCount }, (_, i) => i));
    expect(plan.diskBytes).toBe(plan.tileCount * timing.bytesPerTile);
    expect(plan.chips.map((one) => one.areaMm2)).toEqual([9, 4]);
  });

  it('goes from tile to neighbouring tile: no step is longer than one frame', () => {
    const [one] = planOf([chip(square(5000))]).chips;
    one?.tiles.slice(1).forEach((tile, i) => expect(distanceUm(tile.centreUm, one.tiles[i]?.centreUm ?? at(NaN, NaN))).toBeLessThan(845));
  });

  it('begins with a corner, the one that is soonest reached from the first focus point, where focus was measured last', () => {
    // An L: its first focus point lies in the thick foot, nearer to that corner than to the end of the arm.
    const l = polygon(at(0, 0), at(6000, 0), at(6000, 4000), at(1500, 4000), at(1500, 9000), at(0, 9000));
    const [one] = planOf([chip(l)], 10, { limits: { ...limits, xMinUm: -100, yMinUm: -100 } }).chips;
    const tiles = one?.tiles ?? [];
    const from = one?.focusPointsUm[0] ?? at(NaN, NaN);
    const last = tiles.at(-1)?.centreUm ?? at(NaN, NaN);
    expect(distanceUm(tiles[0]?.centreUm ?? at(NaN, NaN), from)).toBeLessThan(distanceUm(last, from));
  });

  it('forecasts a single tile by hand: four dark frames, 60 ms settling (2 um of focus and its 20 ms take less), 20 ms exposure, 40 ms readout', () => {
    expect(planOf([chip(square(500))], 10, { focusPointsPerChip: 0 }).forecastS).toBeCloseTo(4 * 0.06 + 0.06 + 0.02 + 0.04, 6);
  });

  it('forecasts two tiles and one focus point by hand', () => {
    // 1500 x 500 um at 10x: two tiles, 1500 - 844.56 = 655.44 um apart; the focus point is in the middle, 327.72 um from either. From it
    // up to the right one and back with the take-up is a little quicker than the other way round.
    const outline: Outline = { shape: 'rectangle', centreUm: at(50_000, 50_000), widthUm: 1500, heightUm: 500, angleDeg: 0 };
    const plan = planOf([chip(outline)], 10, { focusPointsPerChip: 1 });
    // The point is measured, and once more before the tiles; the stage stands there already.
    const { searches } = focusExposures({ rangeUm: 20, depthOfFieldUm: 6, takeUpUm: 1, pointsUm: plan.chips[0]?.focusPointsUm ?? [] });
    expect(searches).toHaveLength(2);
    const focus = searches.reduce((sum, search) => sum + 0.06 + searchSeconds(search, timing), 0);
    const [middle] = plan.chips[0]?.focusPointsUm ?? [];
    expect(distanceUm(middle ?? at(NaN, NaN), at(50_000, 50_000))).toBeLessThan(0.2);
    expect(plan.chips[0]?.tiles[0]?.centreUm.xUm).toBeCloseTo(50_000 + 327.72, 6);
    const moves = 2 * Math.sqrt(327.72 / 1e5) + 2 * Math.sqrt((655.44 + 15) / 1e5) + 2 * Math.sqrt(15 / 1e5);
    expect(plan.forecastS).toBeCloseTo(4 * 0.06 + focus + moves + 2 * 0.08 + 0.04, 4);
  });

  it('scans both pieces of a chip whose waist is thinner than its margin', () => {
    const waist = polygon(at(0, 0), at(3000, 0), at(3000, 1300), at(4000, 1300), at(4000, 0), at(8000, 0), at(8000, 3000), at(4000, 3000), at(4000, 1700), at(3000, 1700), at(3000, 3000), at(0, 3000));
    const [one] = planOf([chip(waist, 'W', 300)], 10, { limits: { ...limits, xMinUm: -100, yMinUm: -100 } }).chips;
    expect(one?.otherPiecesUm).toHaveLength(1);
    // Each piece bulges a little into the mouth of the waist: there the corners, 200 um off its middle line, are what is nearest. With
    // s the distance along the mouth, the bulge is 300 - sqrt(300^2 - s^2) deep, for s from 0 to 200 and twice per mouth.
    const bulgeUm2 = 2 * (200 * 300 - (200 * Math.sqrt(300 ** 2 - 200 ** 2) + 300 ** 2 * Math.asin(2 / 3)) / 2);
    const exactMm2 = 2.4 * 2.4 + 3.4 * 2.4 + (2 * bulgeUm2) / 1e6;
    expect(one?.areaMm2).toBeLessThan(exactMm2);
    expect(one?.areaMm2).toBeGreaterThan(exactMm2 - 0.001);
    const pieces = [one?.scannedUm ?? [], ...(one?.otherPiecesUm ?? [])];
    for (const piece of pieces) expect(one?.tiles.some((tile) => containsPoint(piece, tile.centreUm))).toBe(true);
  });

  it('plans 100,000 tiles, the camera turned against the chip (how long that takes is measured by bench:plan)', () => {
    const plan = planOf([chip(square(44_000, at(50_000, 50_000), 5))], 50);
    expect(plan.tileCount).toBeGreaterThan(100_000);
  });
});

describe('the order of chips', () => {
  const names = (chips: readonly ReturnType<typeof chip>[], more: Parameters<typeof request>[2] = {}): readonly string[] => planOf(chips, 10, more).chips.map(({ name }) => name);
  const inARow = [10, 40, 20, 30].map((mm) => chip(square(3000, at(1000 * mm, 20_000)), `at ${mm}`));

  it('is that of the list, unless the fastest is asked for', () => {
    expect(names(inARow)).toEqual(['at 10', 'at 40', 'at 20', 'at 30']);
    expect(names(inARow, { reorderChips: true })).toEqual(['at 10', 'at 20', 'at 30', 'at 40']);
  });

  it('begins near the stage, where it is known where that stands', () => {
    expect(names(inARow, { reorderChips: true, fromUm: at(50_000, 20_000) })).toEqual(['at 40', 'at 30', 'at 20', 'at 10']);
  });

  it('takes less time than the order of the list', () => {
    expect(planOf(inARow, 10, { reorderChips: true }).forecastS).toBeLessThan(planOf(inARow).forecastS - 1);
  });
});

describe('focus points', () => {
  it('spreads nine over a square: middle, corners and middles of sides, half a frame off the edge where there is room', () => {
    const [one] = planOf([chip(square(10_000))], 10, { focusPointsPerChip: 9 }).chips;
    const rim = Math.hypot(844.56, 706.56) / 2;
    const far = 5000 - rim;
    const expected = [-far, 0, far].flatMap((dx) => [-far, 0, far].map((dy) => at(50_000 + dx, 50_000 + dy)));
    expect(one?.focusPointsUm[0]).toEqual(at(50_000, 50_000));
    for (const place of expected) expect(one?.focusPointsUm.some((p) => distanceUm(p, place) < 250)).toBe(true);
  });

  it('lie in the scanned area, apart from each other, as many as asked', () => {
    fc.assert(
      fc.property(starOutline, fc.integer({ min: 3, max: 20 }), (outline, count) => {
        const [one] = planOf([chip(outline, 'S', 100)], 20, { focusPointsPerChip: count }).chips;
        const points = one?.focusPointsUm ?? [];
        expect(points).toHaveLength(count);
        points.forEach((p, i) => {
          const pieces = [one?.scannedUm ?? [], ...(one?.otherPiecesUm ?? [])];
          expect(pieces.some((piece) => containsPoint(piece, p) || distanceToEdgeUm(piece, p) < 1e-6)).toBe(true);
          for (const q of points.slice(i + 1)) expect(distanceUm(p, q)).toBeGreaterThan(1);
        });
      }),
      { numRuns: 50 },
    );
  });
});

describe('refusals', () => {
  it('names chip and limit, and by how much, with the backlash in it', () => {
    // A 10 mm chip centred 5 mm inside the low limit: the first tile's middle lies half a frame inside, so 422.28 um above xMin;
    // at 4990 it is 10 um less, and a backlash of 450 um reaches 450 - 412.28 = 37.72 um beyond.
    const refusals = refusalsOf([chip(square(10_000, at(4990, 50_000)), 'K-07')], 10, { timing: { ...timing, backlashUm: 450 } });
    expect(refusals).toHaveLength(1);
    const [one] = refusals;
    expect(one).toMatchObject({ code: 'beyondTravel', chip: 'K-07', limit: 'xMin', limitUm: 0 });
    expect(one?.code === 'beyondTravel' && one.byUm).toBeCloseTo(37.72, 6);
  });

  it('refuses each limit that is passed, and only where no sound plan is', () => {
    const { xMinUm, xMaxUm, yMinUm, yMaxUm } = limits;
    const corners = [at(xMinUm, yMinUm), at(xMaxUm, yMaxUm)];
    const codes = corners.map((centre) => refusalsOf([chip(square(8000, centre))]).map((r) => r.code === 'beyondTravel' && r.limit));
    expect(codes).toEqual([['xMin', 'yMin'], ['xMax', 'yMax']]);
  });

  it('collects what is wrong with several chips at once', () => {
    const bowTie = polygon(at(1000, 1000), at(3000, 3000), at(3000, 1000), at(1000, 3000));
    const refusals = refusalsOf(
      [
        chip(bowTie, 'tie'),
        chip(polygon(at(0, 0), at(1, 1), at(1, 1)), 'two'),
        chip(square(500, at(20_000, 20_000)), 'thin', 250),
        chip(square(3000, at(60_000, 60_000)), 'left'),
        chip(square(3000, at(62_000, 61_000), 30), 'right'),
      ],
      10,
    );
    expect(refusals).toEqual([
      { code: 'outlineCrossesItself', chip: 'tie', edgeA: 0, edgeB: 2 },
      { code: 'outlineTooFewCorners', chip: 'two', corners: 2 },
      { code: 'outlineEmpty', chip: 'thin', edgeMarginUm: 250 },
      { code: 'chipsOverlap', chip: 'left', other: 'right' },
    ]);
  });

  it('refuses an overlap of 60 %, below zero, or none at all', () => {
    for (const overlap of [0.6, -0.1, NaN]) {
      expect(refusalsOf([chip(square(3000))], 10, { overlap })).toEqual([{ code: 'overlapRange', overlap, max: 0.5 }]);
    }
  });

  it('refuses a monster before it fills the memory', () => {
    const [one] = refusalsOf([chip(square(90_000))], 100, { overlap: 0.5 });
    expect(one?.code === 'tooManyTiles' && one.tiles > MAX_TILES && one.max).toBe(MAX_TILES);
  });
});
