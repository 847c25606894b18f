import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { containsPoint } from '../../../planner/geometry/polygon.ts';
import { stripCourses } from '../../../planner/plan/courses.ts';
import { outlinePolygon } from '../../../planner/plan/outline.ts';
import { tileStrips } from '../../../planner/plan/tiles.ts';
import { apply2, stageToPixel } from '../../../planner/units/index.ts';
import { cameraToStage } from '../../../planner/plan/objective.ts';
import { planScan } from '../../../planner/plan/planScan.ts';
import type { PlannedChip, StageTiming } from '../../../planner/plan/types.ts';
import { anyCamera, anyOutline, at, chip, request, square, timing } from './requests.ts';

/** Protects: strips run the way that takes the least time, with the camera turned against stage and chip. */

function planned(cameraDeg: number, chipDeg: number, more: Partial<StageTiming> = {}): { readonly chip: PlannedChip; readonly seconds: number } {
  const result = planScan(request([chip(square(10_000, at(50_000, 50_000), chipDeg))], 10, { cameraToStageUm: cameraToStage(0.345, cameraDeg, true), timing: { ...timing, ...more } }));
  const one = result.ok ? result.plan.chips[0] : undefined;
  if (!result.ok || !one) throw new Error('refused');
  return { chip: one, seconds: result.plan.forecastS };
}

/** Steps between tiles of one strip on which both axes move. */
function slantedSteps({ tiles }: PlannedChip): number {
  return tiles.slice(1).filter((tile, i) => {
    const before = tiles[i]?.centreUm ?? tile.centreUm;
    return Math.min(Math.abs(tile.centreUm.xUm - before.xUm), Math.abs(tile.centreUm.yUm - before.yUm)) > 0.2;
  }).length;
}

describe('the course of strips', () => {
  it('keeps to the stage\'s axes when the camera is a little turned: else the other axis takes its slack up at every tile', () => {
    const { chip: one, seconds } = planned(0.4, 0);
    // Only turns from strip to strip, of which there are 12 to 16, move both axes.
    expect(slantedSteps(one)).toBeLessThan(17);
    expect(one.tiles.length).toBeLessThan(260);
    expect(seconds).toBeLessThan(1.03 * planned(0, 0).seconds);
  });

  it('follows the chip where the play is known: no more tiles than for an unturned one and its slant', () => {
    const turned = planned(0, 4, { playUm: [12, 12] });
    const along = planned(0, 0, { playUm: [12, 12] });
    expect(along.chip.tiles).toHaveLength(224);
    expect(turned.chip.tiles.length).toBeLessThan(1.15 * 224);
  });

  it('takes 3 % less time with the play known than without, on rows both ways', () => {
    expect(planned(0, 0, { playUm: [12, 12] }).seconds).toBeLessThan(0.97 * planned(0, 0).seconds);
  });
});

describe('every course, the slower ones too', () => {
  const share = fc.double({ min: -1, max: 1, noNaN: true });

  it('leaves no gap, and any box as large as the overlap lies wholly in one tile (law)', () => {
    fc.assert(
      fc.property(anyOutline, anyCamera, fc.array(fc.tuple(share, share), { minLength: 25, maxLength: 25 }), (outline, camera, shares) => {
        const area = outlinePolygon(outline);
        const view = { widthPx: 2448, heightPx: 2048, cameraToStageUm: cameraToStage(3.45 / camera.magnification, camera.rotationDeg, camera.mirrored) };
        for (const course of stripCourses(area, view, camera.overlap)) {
          const poses = tileStrips([area], [], view, camera.overlap, course).flat().map(({ centreUm }) => ({ ...view, centreUm }));
          for (const [sx, sy] of shares) {
            const spot = at(50_000 + 5050 * sx, 50_000 + 5050 * sy);
            if (!containsPoint(area, spot)) continue;
            const corners = [[0, 0], [1, 0], [1, 1], [0, 1]].map(([c = 0, r = 0]) => {
              const [dx, dy] = apply2(view.cameraToStageUm, c * camera.overlap * 2448, r * camera.overlap * 2048);
              return at(spot.xUm + dx, spot.yUm + dy);
            });
            const wanted = corners.every((corner) => containsPoint(area, corner)) && outline.shape !== 'polygon' ? corners : [spot];
            const isSeen = poses.some((pose) => wanted.every((point) => {
              const { colPx, rowPx } = stageToPixel(pose, point);
              return colPx >= -1e-4 && rowPx >= -1e-4 && colPx <= 2448 + 1e-4 && rowPx <= 2048 + 1e-4;
            }));
            expect(isSeen).toBe(true);
          }
        }
      }),
      { numRuns: 60 },
    );
  });

  it('is offered along the camera, the stage and the chip, once each', () => {
    const view = { widthPx: 2448, heightPx: 2048, cameraToStageUm: cameraToStage(0.345, 2, false) };
    const slantsDeg = stripCourses(outlinePolygon(square(5000, at(0, 0), 5)), view, 0.1).filter(({ direction }) => direction === 'width').map(({ slant }) => (Math.atan(slant) * 180) / Math.PI);
    // Against the camera, which is turned by 2 degrees: itself, the stage's x, and the chip's edge.
    expect(slantsDeg.map((deg) => Math.round(deg * 1e6) / 1e6)).toEqual([0, -2, 3]);
  });
});
