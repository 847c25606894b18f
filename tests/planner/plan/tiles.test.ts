import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { containsPoint, findSelfCrossing, polygonsIntersect } from '../../../planner/geometry/polygon.ts';
import type { Polygon } from '../../../planner/geometry/polygon.ts';
import { edgesMeet } from '../../../planner/geometry/crossing.ts';
import { edgesOf } from '../../../planner/geometry/measure.ts';
import { cameraToStage } from '../../../planner/plan/objective.ts';
import { planScan } from '../../../planner/plan/planScan.ts';
import type { Outline, PlannedChip } from '../../../planner/plan/types.ts';
import { apply2, distanceUm, pixelToStage, stageToPixel } from '../../../planner/units/index.ts';
import type { FramePose, Matrix2, StagePoint } from '../../../planner/units/index.ts';
import { anyCamera, anyOutline, at, chip, request, square } from './requests.ts';

interface Camera {
  readonly rotationDeg: number;
  readonly mirrored: boolean;
  readonly overlap: number;
  readonly magnification: number;
}

function planned(outline: Outline, camera: Camera, edgeMarginUm: number): { chip: PlannedChip; poses: FramePose[]; matrix: Matrix2 } | undefined {
  const matrix = cameraToStage(3.45 / camera.magnification, camera.rotationDeg, camera.mirrored);
  const result = planScan(request([chip(outline, 'K-01', edgeMarginUm)], camera.magnification, { cameraToStageUm: matrix, overlap: camera.overlap }));
  const first = result.ok ? result.plan.chips[0] : undefined;
  if (!first) return undefined;
  const poses = first.tiles.map(({ centreUm }) => ({ centreUm, cameraToStageUm: matrix, widthPx: 2448, heightPx: 2048 }));
  return { chip: first, poses, matrix };
}

const slackPx = 1e-4;
function seesPoint(pose: FramePose, point: StagePoint): boolean {
  const { colPx, rowPx } = stageToPixel(pose, point);
  return colPx >= -slackPx && rowPx >= -slackPx && colPx <= pose.widthPx + slackPx && rowPx <= pose.heightPx + slackPx;
}

const piecesOf = (one: PlannedChip): readonly Polygon<'stage'>[] => [one.scannedUm, ...(one.otherPiecesUm ?? [])];
const frameCorners = (pose: FramePose): StagePoint[] =>
  [[0, 0], [1, 0], [1, 1], [0, 1]].map(([c = 0, r = 0]) => pixelToStage(pose, { colPx: c * pose.widthPx, rowPx: r * pose.heightPx }));

/** Whether a small polygon lies inside another one wholly. */
const liesInside = (small: Polygon<'stage'>, large: Polygon<'stage'>): boolean =>
  small.every((p) => containsPoint(large, p)) && !edgesOf(small).some((a) => edgesOf(large).some((b) => edgesMeet(a, b)));

const share = fc.double({ min: 0, max: 1, noNaN: true });
const spots = fc.array(fc.tuple(share, share), { minLength: 40, maxLength: 40 });
const margin = fc.constantFrom(0, 50, 300);

describe('tiles (laws)', () => {
  it('leaves no gap: any spot of the scanned area, and any box around it as large as the overlap, lies wholly in one tile', () => {
    fc.assert(
      fc.property(anyOutline, anyCamera, margin, spots, (outline, camera, marginUm, shares) => {
        const plan = planned(outline, camera, marginUm);
        if (!plan) return;
        const span = 5000 * 1.01;
        for (const [sx, sy] of shares) {
          const spot = at(50_000 + (2 * sx - 1) * span, 50_000 + (2 * sy - 1) * span);
          for (const piece of piecesOf(plan.chip)) {
            if (!containsPoint(piece, spot)) continue;
            expect(plan.poses.some((pose) => seesPoint(pose, spot))).toBe(true);
            const box = [[0, 0], [1, 0], [1, 1], [0, 1]].map(([c = 0, r = 0]) => {
              const [dx, dy] = apply2(plan.matrix, c * camera.overlap * 2448, r * camera.overlap * 2048);
              return at(spot.xUm + dx, spot.yUm + dy);
            });
            if (liesInside(box, piece)) expect(plan.poses.some((pose) => box.every((corner) => seesPoint(pose, corner)))).toBe(true);
          }
        }
      }),
      { numRuns: 150 },
    );
  });

  it('covers every corner of the scanned area', () => {
    fc.assert(
      fc.property(anyOutline, anyCamera, margin, (outline, camera, marginUm) => {
        const plan = planned(outline, camera, marginUm);
        if (!plan) return;
        for (const piece of piecesOf(plan.chip)) for (const corner of piece) expect(plan.poses.some((pose) => seesPoint(pose, corner))).toBe(true);
      }),
      { numRuns: 150 },
    );
  });

  it('takes no tile wholly outside', () => {
    fc.assert(
      fc.property(anyOutline, anyCamera, margin, (outline, camera, marginUm) => {
        const plan = planned(outline, camera, marginUm);
        if (!plan) return;
        for (const pose of plan.poses) expect(piecesOf(plan.chip).some((piece) => polygonsIntersect(piece, frameCorners(pose)))).toBe(true);
      }),
      { numRuns: 150 },
    );
  });

  it('leaves out what a notch cuts off, and still covers both arms', () => {
    // A U of two arms 1 mm wide and 9 mm apart: at 20x (0.42 x 0.35 mm) whole tiles fit into the gap.
    const u: Outline = { shape: 'polygon', cornersUm: [at(0, 0), at(11_000, 0), at(11_000, 8000), at(10_000, 8000), at(10_000, 1000), at(1000, 1000), at(1000, 8000), at(0, 8000)].map((p) => at(p.xUm + 20_000, p.yUm + 20_000)) };
    const plan = planned(u, { rotationDeg: 0, mirrored: false, overlap: 0.1, magnification: 20 }, 0);
    const block = planned(square(11_000), { rotationDeg: 0, mirrored: false, overlap: 0.1, magnification: 20 }, 0);
    expect(findSelfCrossing(plan?.chip.outlineUm ?? [])).toBeUndefined();
    // Each arm is 3 tiles wide ((1000 - 422.28)/380.05 = 1.5, so 3) and (8000 - 353.28)/317.95 = 24.05, so 26 rows high; the foot of
    // 11 mm takes (11000 - 422.28)/380.05 = 27.8, so 29 columns. Of 26 evenly spread rows those that reach below 1 mm are foot.
    const rows = 26;
    const pitch = (8000 - 353.28) / (rows - 1);
    const footRows = Array.from({ length: rows }, (_, i) => i * pitch).filter((low) => low < 1000).length;
    expect(plan?.chip.tiles.length).toBe(footRows * 29 + (rows - footRows) * 6);
    expect(plan?.chip.tiles.length).toBeLessThan((block?.chip.tiles.length ?? 0) / 2);
  });
});

describe('tile counts (issue C: 10 x 10 mm, 2448 x 2048 at 3.45 um, 10 % overlap)', () => {
  it.each([
    [5, 56],
    [10, 224],
    [20, 864],
    [50, 5214],
  ])('at %dx takes %d tiles', (magnification, tiles) => {
    const result = planScan(request([chip(square(10_000))], magnification));
    expect(result.ok && result.plan.tileCount).toBe(tiles);
  });

  it('is the same for camera and chip turned together, mirrored or not', () => {
    for (const mirrored of [false, true]) {
      const turned = request([chip(square(10_000, at(50_000, 50_000), 17))], 10, { cameraToStageUm: cameraToStage(0.345, 17, mirrored) });
      const result = planScan(turned);
      expect(result.ok && result.plan.tileCount).toBe(224);
    }
  });

  it('takes one tile in the middle of a chip that is smaller than the field', () => {
    const result = planScan(request([chip(square(500))], 10));
    const tiles = (result.ok && result.plan.chips[0]?.tiles) || [];
    expect(tiles).toHaveLength(1);
    for (const tile of tiles) expect(distanceUm(tile.centreUm, at(50_000, 50_000))).toBeLessThan(1e-6);
  });
});
