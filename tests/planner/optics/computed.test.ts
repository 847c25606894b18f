import { describe, expect, test } from 'vitest';
import type { Film, IndexTable, MaterialId } from '../../../planner/optics/index.ts';
import { constantIndex, contrastChart, contrastPeaks, graphite, materials } from '../../../planner/optics/index.ts';
import { sio2Malitson1965 } from '../../../planner/optics/tables/sio2Malitson1965.ts';

// Source: notes of the independent transfer-matrix calculation behind tests/reference/optics-examples.json (not this project's code). All are
// computed, none measured, and printed to the digits that stand here; half of the last digit is allowed, and two parts in 10,000 for the
// rounding of the tables that were brought to even steps.

interface Place {
  readonly layers?: number;
  readonly na?: number;
  readonly nm?: number;
  readonly oxide?: IndexTable;
}

function contrast(material: MaterialId | Film, oxideNm: number, { layers = 1, na = 0, nm = 550, oxide = sio2Malitson1965 }: Place = {}): number {
  return contrastChart({ material, oxidesNm: [oxideNm], numericalAperture: na, layers, oxide, wavelengthRangeNm: [nm, nm] }).contrast[0] as number;
}

const half = 0.0005;
const expectPrinted = (actual: number, printed: number): void => expect(Math.abs(actual - printed), `${actual} for ${printed}`).toBeLessThanOrEqual(half + 2e-4 * Math.abs(printed));
const blake: Film = { table: constantIndex('graphite as in Blake 2007', { n: 2.6, k: 1.3 }), layerThicknessNm: 0.34 };
const ni: Film = { table: constantIndex('graphene as in Ni 2007', { n: 2.0, k: 1.1 }), layerThicknessNm: 0.335 };
const { graphene } = materials;

describe('graphene at 550 nm', () => {
  test.each([
    [300, 0, 0.058], [300, 0.45, 0.089], [300, 0.8, 0.111],
    [285, 0, 0.125], [285, 0.45, 0.14], [285, 0.8, 0.1],
    [290, 0, 0.103], [315, 0, 0.016], [315, 0.8, 0.083],
  ])('%i nm oxide, NA %f: %f', (oxideNm, na, expected) => {
    expectPrinted(contrast('graphene', oxideNm, { na }), expected);
  });
  test.each([[90, 1.88], [285, 1.87], [290, 1.86]])('%i nm oxide: two layers show %f times as much as one', (oxideNm, expected) => {
    expect(Math.abs(contrast('graphene', oxideNm, { layers: 2 }) / contrast('graphene', oxideNm) - expected)).toBeLessThanOrEqual(0.0051);
  });
  test.each([[2, 0.935], [3, 0.874], [4, 0.815], [5, 0.76]])('%i layers show %f of what adding up would give', (layers, expected) => {
    expectPrinted(contrast('graphene', 285, { layers }) / (layers * contrast('graphene', 285)), expected);
  });
  test('ten layers show 0.53 of it', () => {
    expect(Math.abs(contrast('graphene', 285, { layers: 10 }) / (10 * contrast('graphene', 285)) - 0.53)).toBeLessThanOrEqual(0.0051);
  });
  test('an oxide that is 0.4 % denser than fused silica: 0.121 in place of 0.125', () => {
    const denser = { ...sio2Malitson1965, n: sio2Malitson1965.n.map((n) => 1.004 * n) };
    expectPrinted(contrast('graphene', 285, { oxide: denser }), 0.121);
  });
});

// Blake et al. 2007 in violet and on 200 nm: the values that the calculation gives for their index.
test.each([
  [300, 450, 0, -0.008], [300, 450, 0.8, 0.004], [200, 550, 0, -0.001], [200, 450, 0, 0.08],
])('n = 2.6 - 1.3i on %i nm at %i nm, NA %f: %f', (oxideNm, nm, na, expected) => {
  expectPrinted(contrast(blake, oxideNm, { nm, na }), expected);
});

describe('greatest contrast of 1 to 4 layers on 285 nm', () => {
  test.each<readonly [string, Film, number, readonly number[]]>([
    ['n = 2.0 - 1.1i, NA 0', ni, 0, [0.0907, 0.1751, 0.2537, 0.3268]],
    ['n = 2.6 - 1.3i, NA 0', { ...blake, layerThicknessNm: 0.335 }, 0, [0.14, 0.265, 0.377, 0.476]],
    ['graphene, NA 0', graphene, 0, [0.145, 0.274, 0.389, 0.491]],
    ['graphene, NA 0.8', graphene, 0.8, [0.114, 0.215, 0.305, 0.385]],
    ['graphene, NA 0.95', graphene, 0.95, [0.083, 0.157, 0.223, 0.282]],
  ])('%s', (_name, material, numericalAperture, expected) => {
    expected.forEach((value, i) => {
      const peaks = contrastPeaks({ material, oxideNm: 285, numericalAperture, layers: i + 1 }).filter(({ at, value: height }) => at > 480 && at < 700 && height > 0);
      expect(peaks).toHaveLength(1);
      expectPrinted((peaks[0]?.value as number), value);
    });
  });
});

describe('other materials at 550 nm, NA 0 unless said', () => {
  test.each([
    ['mos2', 90, 0.304], ['mos2', 270, 0.437], ['mos2', 285, 0.141], ['mos2', 300, -0.137],
    ['wse2', 90, 0.559], ['wse2', 270, 0.615], ['wse2', 285, 0.434], ['wse2', 300, 0.117],
  ] as const)('one layer of %s on %i nm: %f', (material, oxideNm, expected) => {
    expectPrinted(contrast(material, oxideNm), expected);
  });
  test('forty layers of graphite on 290 nm are brighter than the oxide: -0.33 at NA 0.45', () => {
    expect(Math.abs(contrast(graphite, 290, { layers: 40, na: 0.45 }) - -0.33)).toBeLessThanOrEqual(0.0051);
  });
});

// Golla et al. 2013, Appl. Phys. Lett. 102, 161906, abstract, READ: a strong negative peak at short wavelengths, and a zero that moves with thickness.
test('hBN: brighter than the oxide at short wavelengths, with a zero that moves with its thickness', () => {
  const zeroNm = (layers: number): number => {
    const { contrast: spectrum, wavelengthsNm } = contrastChart({ material: 'hbn', oxidesNm: [285], numericalAperture: 0, layers, stepNm: 1, wavelengthRangeNm: [480, 700] });
    return wavelengthsNm[spectrum.findIndex((value) => value > 0)] as number;
  };
  const zeros = [1, 20, 40, 60].map(zeroNm);
  zeros.slice(1).forEach((nm, i) => expect(nm).toBeGreaterThan((zeros[i] as number) + 2));
  const strongest = contrastPeaks({ material: 'hbn', oxideNm: 285, numericalAperture: 0, layers: 40 }).reduce((best, peak) => (Math.abs(peak.value) > Math.abs(best.value) ? peak : best));
  expect(strongest.value).toBeLessThan(-0.5);
  expect(strongest.at).toBeLessThan(zeroNm(40));
});
