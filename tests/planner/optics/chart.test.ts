import { describe, expect, test } from 'vitest';
import type { Film, MaterialId } from '../../../planner/optics/index.ts';
import { bestOxides, constantIndex, contrastChart, contrastPeaks, equalEnergy, graphite, idealMonoBands, materials } from '../../../planner/optics/index.ts';
import { allowed, examples } from './reference.ts';

// "Independent calculation": the transfer-matrix calculation behind tests/reference/optics-examples.json (not this project's code); its figures
// for zeros and best oxides are quoted here as that calculation's notes print them: computed, not measured. READ and FROM MEMORY as in published.test.ts.

const films = new Map<string, Film>([...Object.values(materials), graphite].map((film) => [film.table.name, film]));
/** Light of one wavelength: the filter's sides are so steep that at 1 nm only the middle passes on a grid of 1 nm. */
const monochrome = (centreNm: number) => ({ kind: 'filtered', lamp: equalEnergy, filter: { centreNm, widthNm: 1 } }) as const;

describe('contrast chart', () => {
  const known = examples.cases.filter((one) => films.has(one.film));
  test('most examples are of materials that the planner holds', () => {
    expect(known.length).toBeGreaterThan(10);
  });
  test.each(known)('holds the independent value $id: $film, $oxide_nm nm oxide, $wavelength_nm nm, NA $NA', (one) => {
    const material = { table: films.get(one.film)?.table ?? graphite.table, layerThicknessNm: one.film_thickness_nm };
    const oxidesNm = [50, one.oxide_nm, 500];
    const chart = contrastChart({ material, oxidesNm, numericalAperture: one.NA, wavelengthRangeNm: [380, 780], stepNm: 1 });
    const place = chart.wavelengthsNm.indexOf(one.wavelength_nm) * oxidesNm.length + 1;
    expect(Math.abs((chart.contrast[place] as number) - one.contrast)).toBeLessThanOrEqual(allowed(one.contrast));
  });

  /** The wavelength at which one layer on this oxide turns from brighter (below) to darker (above), from the chart. */
  function signChangeNm(material: MaterialId, oxideNm: number): number[] {
    const { contrast, wavelengthsNm } = contrastChart({ material, oxidesNm: [oxideNm], numericalAperture: 0, stepNm: 1, wavelengthRangeNm: [460, 620] });
    const last = wavelengthsNm.length - 1;
    return wavelengthsNm.flatMap((nm, i) => (i < last && (contrast[i] as number) < 0 && (contrast[i + 1] as number) >= 0 ? [nm + (contrast[i] as number) / ((contrast[i] as number) - (contrast[i + 1] as number))] : []));
  }
  // Independent calculation, NA 0, printed in whole nanometres.
  test.each([
    ['hbn', 285, 555],
    ['hbn', 290, 565],
    ['hbn', 300, 584],
    ['mos2', 285, 538],
    ['mos2', 290, 548],
    ['mos2', 300, 566],
    ['ws2', 285, 529],
    ['ws2', 290, 544],
    ['ws2', 300, 580],
    ['graphene', 285, 477],
    ['graphene', 290, 486],
    ['graphene', 300, 503],
  ] as const)('%s on %i nm turns from brighter to darker at %i nm', (material, oxideNm, expectedNm) => {
    const found = signChangeNm(material, oxideNm);
    expect(found.some((nm) => Math.abs(nm - expectedNm) <= 1), `found ${found.join(', ')}`).toBe(true);
  });

  // Independent calculation, NA 0: hBN 290 nm +0.029 at 611 nm and -0.032 at 523 nm; 80 nm +0.029 at 596 nm.
  // Gorbachev et al. 2011, doi 10.1002/smll.201001628 (numbers FROM MEMORY): up to about 3 %, with filters.
  test('one layer of hBN has its greatest contrasts where filters are put', () => {
    const on290 = contrastPeaks({ material: 'hbn', oxideNm: 290, numericalAperture: 0 });
    expect(on290).toHaveLength(2);
    [[523, -0.032], [611, 0.029]].forEach(([nm, value], i) => {
      expect(Math.abs((on290[i]?.at as number) - (nm as number))).toBeLessThanOrEqual(1);
      expect(Math.abs((on290[i]?.value as number) - (value as number))).toBeLessThanOrEqual(0.0006);
    });
    expect(contrastPeaks({ material: 'hbn', oxideNm: 80, numericalAperture: 0 }).some(({ at, value }) => Math.abs(at - 596) <= 1 && Math.abs(value - 0.029) <= 0.0006)).toBe(true);
  });
});

describe('best oxide for a light', () => {
  const blake: Film = { table: constantIndex('graphite as in Blake 2007', { n: 2.6, k: 1.3 }), layerThicknessNm: 0.34 };

  // Independent calculation for n = 2.6 - 1.3i, 550 nm; contrast there 0.145 (NA 0), 0.139 and 0.111 (NA 0.8). Blake et al. 2007,
  // doi 10.1063/1.2768624: about 90 and 280 nm in green, largest contrast measured about 12 % (both FROM MEMORY).
  test.each([
    [0, 87, 276],
    [0.45, 90, 283],
    [0.8, 95, 298],
    [0.95, 98, 307],
  ])('graphene in green at NA %f: %i and %i nm', (numericalAperture, thin, thick) => {
    const best = bestOxides({ material: blake, numericalAperture, lamp: monochrome(550), bands: idealMonoBands, stepNm: 1 });
    const strong = (best.byChannel[0] ?? []).filter(({ contrast }) => Math.abs(contrast[0] as number) > 0.05);
    expect(strong.map(({ oxideNm }) => Math.round(oxideNm))).toEqual([thin, thick]);
    expect(best.overall.map(({ oxideNm }) => oxideNm)).toEqual(best.byChannel[0]?.map(({ oxideNm }) => oxideNm));
  });
  test.each([
    [0, 0.145, 0.145],
    [0.8, 0.139, 0.111],
  ])('its contrast there at NA %f: %f and %f', (numericalAperture, thin, thick) => {
    const best = bestOxides({ material: blake, numericalAperture, lamp: monochrome(550), bands: idealMonoBands, stepNm: 1 });
    const strong = (best.byChannel[0] ?? []).map(({ contrast }) => contrast[0] as number).filter((value) => value > 0.05);
    expect(strong).toHaveLength(2);
    [thin, thick].forEach((value, i) => expect(Math.abs((strong[i] as number) - value)).toBeLessThanOrEqual(0.0006));
  });

  // Benameur et al. 2011, doi 10.1088/0957-4484/22/12/125706, abstract, READ: MoS2 and WSe2 monolayers on 90 and 270 nm in broadband green.
  // The bound is ours: the monolayer tables that are held differ among each other by 0.1 in contrast.
  test.each(['mos2', 'wse2'] as const)('%s in broadband green: within 20 nm of 90 and 270 nm', (material) => {
    const green = { name: 'green', bands: [{ kind: 'gaussian', centreNm: 540, sigmaNm: 35 }] } as const;
    const best = bestOxides({ material, numericalAperture: 0.45, lamp: equalEnergy, bands: green, rangeNm: [40, 330] }).overall.filter(({ contrast }) => (contrast[0] as number) > 0.15);
    for (const nm of [90, 270]) expect(best.some(({ oxideNm }) => Math.abs(oxideNm - nm) <= 20), best.map(({ oxideNm }) => oxideNm).join(', ')).toBe(true);
  });
});
