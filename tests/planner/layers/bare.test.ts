import { describe, expect, it } from 'vitest';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import type { Ladder, LadderContext } from '../../../planner/layers/types.ts';
import { halogen, idealColourBands, layerCurve } from '../../../planner/optics/index.ts';

/**
 * Protects: where a mirror was made neutral, the colour of bare oxide tells its thickness, before a flake is seen; other balances tell nothing. Bare
 * oxide's reflectance is the stack's, which tests/planner/optics holds against reference values.
 */

const context: LadderContext = { material: 'graphene', oxideNm: 285, numericalAperture: 0.3, lamp: 'halogen', channels: 3 };

function bareOxide(oxideNm: number): readonly number[] {
  return layerCurve({ material: 'graphene', oxideNm, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 1 }).substrate;
}

/** Mean oxide over all ways in which the ladder may stand, and its spread. */
function oxideOf({ hypotheses }: Ladder): readonly [meanNm: number, spreadNm: number] {
  const mean = (value: (oxideNm: number) => number): number => hypotheses.reduce((sum, h) => sum + h.weight * value(h.setting.oxideNm), 0);
  const meanNm = mean((nm) => nm);
  return [meanNm, Math.sqrt(mean((nm) => (nm - meanNm) ** 2))];
}

describe('the colour of bare oxide', () => {
  it.each([274, 285, 297])('on a mirror balance finds %i nm where the box says 285', (trueNm) => {
    const [meanNm, spreadNm] = oxideOf(fitLadder({ ...context, bare: bareOxide(trueNm) }, []));
    expect(Math.abs(meanNm - trueNm)).toBeLessThan(4);
    expect(spreadNm).toBeLessThan(oxideOf(fitLadder(context, []))[1]);
  });

  it('counts as a colour, not as a brightness', () => {
    const level = bareOxide(290);
    const ladder = fitLadder({ ...context, bare: level.map((v) => 0.37 * v) }, []);
    const other = fitLadder({ ...context, bare: level }, []);
    expect(oxideOf(ladder)[0]).toBeCloseTo(oxideOf(other)[0], 6);
  });

  it('leaves everything as it was where it is not known', () => {
    const [meanNm] = oxideOf(fitLadder(context, []));
    expect(meanNm).toBeCloseTo(285, 6);
  });
});
