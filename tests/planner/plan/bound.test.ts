import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { planScan } from '../../../planner/plan/planScan.ts';
import type { ScanPlan } from '../../../planner/plan/types.ts';
import { cameraToStage } from '../../../planner/plan/objective.ts';
import { anyCamera, anyOutline, chip, request, square, timing } from './requests.ts';

/** Protects: the bound is one (no forecast falls below it), and the plan comes near it where nothing is in the way. */

function planOf(...args: Parameters<typeof request>): ScanPlan | undefined {
  const result = planScan(request(...args));
  return result.ok ? result.plan : undefined;
}

describe('the bound of a plan', () => {
  it('counts by hand: two tiles 655.44 um apart, settled and exposed; focus left out', () => {
    const plan = planOf([chip({ shape: 'rectangle', centreUm: { xUm: 50_000, yUm: 50_000 }, widthUm: 1500, heightUm: 500, angleDeg: 0 })], 10, { focusPointsPerChip: 0 });
    expect(plan?.boundS).toBeCloseTo(2 * Math.sqrt(655.44 / 1e5) + 2 * 0.08, 9);
  });

  it('is never more than the forecast (law)', () => {
    fc.assert(
      fc.property(anyOutline, anyCamera, fc.boolean(), (outline, camera, isPlayKnown) => {
        const more = { cameraToStageUm: cameraToStage(3.45 / camera.magnification, camera.rotationDeg, camera.mirrored), overlap: camera.overlap, timing: { ...timing, ...(isPlayKnown ? { playUm: [12, 12] as const } : {}) } };
        const plan = planOf([chip(outline)], camera.magnification, more);
        if (plan) expect(plan.boundS ?? NaN).toBeLessThanOrEqual(plan.forecastS);
      }),
      { numRuns: 60 },
    );
  });

  it('is kept to 3 % by a chip of 1,000 tiles where the play is known (the bar of issue C)', () => {
    const plan = planOf([chip(square(10_800))], 20, { timing: { ...timing, playUm: [12, 12] } });
    expect(plan?.tileCount).toBeGreaterThan(950);
    expect((plan?.forecastS ?? NaN) / (plan?.boundS ?? NaN)).toBeLessThan(1.03);
  });
});
