import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { containsPoint } from '../../../planner/geometry/polygon.ts';
import { outlinePolygon } from '../../../planner/plan/outline.ts';
import { planScan } from '../../../planner/plan/planScan.ts';
import { scannedAreaUm2 } from '../../../planner/plan/scannedArea.ts';
import type { Outline } from '../../../planner/plan/types.ts';
import { stageToPixel } from '../../../planner/units/index.ts';
import type { FramePose, StagePoint } from '../../../planner/units/index.ts';
import { anyCamera, anyOutline, at, chip, request, square } from './requests.ts';
import { cameraToStage } from '../../../planner/plan/objective.ts';

/** Protects: what is to be skipped is left out, and nothing else is. */

const share = fc.double({ min: -1, max: 1, noNaN: true });
const skipped: fc.Arbitrary<Outline> = fc.record({ dx: share, dy: share, side: fc.double({ min: 300, max: 6000, noNaN: true }), angleDeg: fc.double({ min: 0, max: 90, noNaN: true }) }).map(({ dx, dy, side, angleDeg }) => square(side, at(50_000 + 4000 * dx, 50_000 + 4000 * dy), angleDeg));

function sees({ widthPx, heightPx, ...pose }: FramePose, point: StagePoint): boolean {
  const { colPx, rowPx } = stageToPixel({ ...pose, widthPx, heightPx }, point);
  return colPx >= -1e-4 && rowPx >= -1e-4 && colPx <= widthPx + 1e-4 && rowPx <= heightPx + 1e-4;
}

describe('areas to skip', () => {
  it('leave every spot outside them in a tile (law)', () => {
    fc.assert(
      fc.property(anyOutline, anyCamera, fc.array(skipped, { minLength: 1, maxLength: 3 }), fc.array(fc.tuple(share, share), { minLength: 60, maxLength: 60 }), (outline, camera, skip, shares) => {
        const cameraToStageUm = cameraToStage(3.45 / camera.magnification, camera.rotationDeg, camera.mirrored);
        const result = planScan(request([{ ...chip(outline), skip }], camera.magnification, { cameraToStageUm, overlap: camera.overlap }));
        const one = result.ok ? result.plan.chips[0] : undefined;
        if (!one) return;
        const poses = one.tiles.map(({ centreUm }) => ({ centreUm, cameraToStageUm, widthPx: 2448, heightPx: 2048 }));
        for (const [sx, sy] of shares) {
          const spot = at(50_000 + sx * 5050, 50_000 + sy * 5050);
          if (!containsPoint(one.scannedUm, spot) || skip.some((area) => containsPoint(outlinePolygon(area), spot))) continue;
          expect(poses.some((pose) => sees(pose, spot))).toBe(true);
        }
      }),
      { numRuns: 100 },
    );
  });

  it('take the tiles with them that show nothing else, and the focus points', () => {
    const whole = planScan(request([chip(square(10_000))], 20));
    // The left half. The line through the middle lies in tiles that are kept, so a column more than half of them stays.
    const skip: Outline = { shape: 'polygon', cornersUm: [at(45_000, 45_000), at(50_000, 45_000), at(50_000, 55_000), at(45_000, 55_000)] };
    const half = planScan(request([{ ...chip(square(10_000)), skip: [skip] }], 20));
    if (!whole.ok || !half.ok) throw new Error('refused');
    const [one] = half.plan.chips;
    expect(whole.plan.tileCount).toBe(864);
    expect(half.plan.tileCount).toBeLessThan((0.5 + 2 / 27) * 864);
    expect(half.plan.tileCount).toBeGreaterThanOrEqual(0.5 * 864);
    expect(one?.areaMm2).toBeCloseTo(50, 1);
    for (const point of one?.focusPointsUm ?? []) expect(point.xUm).toBeGreaterThan(49_999);
  });

  it('that cover everything are refused, as are those that are none', () => {
    const result = planScan(request([{ ...chip(square(3000)), skip: [square(4000)] }]));
    expect(!result.ok && result.refusals).toEqual([{ code: 'allSkipped', chip: 'K-01' }]);
    const bowTie: Outline = { shape: 'polygon', cornersUm: [at(0, 0), at(100, 100), at(100, 0), at(0, 100)] };
    const unsound = planScan(request([{ ...chip(square(3000)), skip: [square(100), bowTie] }]));
    expect(!unsound.ok && unsound.refusals).toEqual([{ code: 'skipUnsound', chip: 'K-01', skip: 1, crosses: true }]);
  });

  it('are taken off the area (a disc in a square, closed form)', () => {
    const pieces = [outlinePolygon(square(2000))];
    const disc = outlinePolygon({ shape: 'circle', centreUm: at(50_000, 50_000), radiusUm: 500 });
    expect(scannedAreaUm2(pieces, [disc]) / (4e6 - Math.PI * 250_000)).toBeCloseTo(1, 3);
  });
});
