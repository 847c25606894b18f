import { describe, expect, it } from 'vitest';
import { cameraToStage } from '../../../planner/plan/objective.ts';
import { planScan } from '../../../planner/plan/planScan.ts';
import type { PlannedChip, StageTiming } from '../../../planner/plan/types.ts';
import { at, chip, request, square, timing } from './requests.ts';

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
