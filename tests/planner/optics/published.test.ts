import { describe, expect, test } from 'vitest';
import type { Film } from '../../../planner/optics/index.ts';
import {
  coneShares,
  constantIndex,
  coloursSeen,
  idealColourBands,
  indexAt,
  layerCurve,
  materials,
  prepareWafer,
  reflectanceSpectra,
  stackReflectance,
  thicknessCurve,
} from '../../../planner/optics/index.ts';
import { siSchinke2015 } from '../../../planner/optics/tables/siSchinke2015.ts';
import { sio2Malitson1965 } from '../../../planner/optics/tables/sio2Malitson1965.ts';
import { referenceLamp } from './reference.ts';

// READ: the value was seen in a stored copy of the paper's abstract or page. FROM MEMORY: recalled, not seen.

/** Contrast of a film at one wavelength. */
function contrast(film: Film, layers: number, oxideNm: number, nm: number, na = 0): number {
  const oxide = { ...indexAt(sio2Malitson1965, nm), thicknessNm: oxideNm };
  const top = { ...indexAt(film.table, nm), thicknessNm: layers * film.layerThicknessNm };
  const substrate = indexAt(siSchinke2015, nm);
  return 1 - stackReflectance({ layers: [top, oxide], substrate }, nm, na) / stackReflectance({ layers: [oxide], substrate }, nm, na);
}

/** Places in from..to, every nanometre, where f has a local maximum. */
function maxima(f: (x: number) => number, from: number, to: number): number[] {
  const found: number[] = [];
  for (let x = from; x <= to; x++) if (f(x) > f(x - 1) && f(x) >= f(x + 1)) found.push(x);
  return found;
}

const blake: Film = { table: constantIndex('graphite as in Blake 2007', { n: 2.6, k: 1.3 }), layerThicknessNm: 0.34 };
const ni: Film = { table: constantIndex('graphene as in Ni 2007', { n: 2.0, k: 1.1 }), layerThicknessNm: 0.335 };

describe('graphene on oxide: Blake et al. 2007, doi 10.1063/1.2768624', () => {
  test('best oxides in green light are about 90 and 280 nm (FROM MEMORY)', () => {
    const best = maxima((oxideNm) => contrast(blake, 1, oxideNm, 550), 40, 320);
    expect(best).toHaveLength(2);
    expect(Math.abs((best[0] as number) - 90)).toBeLessThanOrEqual(5);
    expect(Math.abs((best[1] as number) - 280)).toBeLessThanOrEqual(5);
  });

  test('300 nm and about 100 nm suit the eye: a maximum of contrast in white light within 20 nm of each (abstract, READ)', () => {
    const view = { material: 'graphene', numericalAperture: 0.8, lamp: referenceLamp('illuminant-d65'), layersMax: 1, stepNm: 10 } as const;
    const brightness = (oxideNm: number) => {
      const [bare, one] = coloursSeen({ ...view, oxideNm });
      return 1 - (one?.xyz[1] as number) / (bare?.xyz[1] as number);
    };
    const best = maxima(brightness, 50, 340);
    expect(best).toHaveLength(2);
    expect(Math.abs((best[0] as number) - 100)).toBeLessThanOrEqual(20);
    expect(Math.abs((best[1] as number) - 300)).toBeLessThanOrEqual(20);
  });

  test('an oxide 5 % thicker than 300 nm can significantly lower the contrast (introduction, READ)', () => {
    expect(contrast(blake, 1, 315, 550)).toBeLessThan(contrast(blake, 1, 300, 550) / 2);
  });

  test('violet light shows nearly nothing on 300 nm, green nearly nothing on 200 nm where blue does (FROM MEMORY)', () => {
    expect(Math.abs(contrast(blake, 1, 300, 440))).toBeLessThan(0.015);
    expect(Math.abs(contrast(blake, 1, 200, 550))).toBeLessThan(0.01);
    expect(contrast(blake, 1, 200, 450)).toBeGreaterThan(0.06);
  });
});

describe('graphene on 285 nm oxide: Ni et al. 2007, doi 10.1021/nl071254m (values and doi FROM MEMORY)', () => {
  test.each([
    [1, 0.09, 0.005],
    [2, 0.175, 0.005],
    [3, 0.255, 0.01],
    [4, 0.33, 0.015],
  ])('%i layers reach a contrast of %f within %f, near 550 nm', (layers, published, error) => {
    const spectrum = (nm: number) => contrast(ni, layers, 285, nm);
    const peaks = maxima(spectrum, 480, 700);
    expect(peaks).toHaveLength(1);
    expect(Math.abs((peaks[0] as number) - 550)).toBeLessThanOrEqual(20);
    expect(Math.abs(spectrum(peaks[0] as number) - published)).toBeLessThanOrEqual(error);
  });

  test('the fit C = 0.0046 + 0.0925 N - 0.00255 N^2 below ten layers', () => {
    for (let layers = 1; layers < 10; layers++) {
      const fit = 0.0046 + 0.0925 * layers - 0.00255 * layers ** 2;
      expect(Math.abs(contrast(ni, layers, 285, 563) - fit)).toBeLessThan(0.03);
    }
  });
});

describe('graphene, other sources', () => {
  test('two layers are about twice as visible as one (Abergel et al. 2007, arXiv 0705.0091, abstract, READ)', () => {
    for (const oxideNm of [90, 285, 290, 300]) {
      const ratio = contrast(materials.graphene, 2, oxideNm, 550) / contrast(materials.graphene, 1, oxideNm, 550);
      expect(ratio).toBeGreaterThan(1.8);
      expect(ratio).toBeLessThan(2);
    }
  });

  test('contrast grows about linearly below six layers (Casiraghi et al. 2007, arXiv 0705.2645, abstract, READ)', () => {
    const one = contrast(materials.graphene, 1, 285, 550);
    for (let layers = 2; layers < 6; layers++) {
      const ratio = contrast(materials.graphene, layers, 285, 550) / (layers * one);
      expect(ratio).toBeGreaterThan(0.75);
      expect(ratio).toBeLessThanOrEqual(1);
    }
  });

  // pi alpha = 2.3 % (Nair et al. 2008, doi 10.1126/science.1156965, abstract, READ). Every ellipsometry table absorbs more, up to 3.2 %.
  test('a free layer absorbs 2.3 % or a little more and reflects below 0.1 % (the latter FROM MEMORY)', () => {
    const free = { layers: [{ ...indexAt(materials.graphene.table, 550), thicknessNm: 0.34 }], substrate: { n: 1, k: 0 } };
    const { reflectance, transmittance } = coneShares(free, 550, 0);
    expect(1 - reflectance - transmittance).toBeGreaterThan(0.0228);
    expect(1 - reflectance - transmittance).toBeLessThan(0.0265);
    expect(reflectance).toBeLessThan(0.001);
  });
});

describe('other materials', () => {
  // Benameur et al. 2011, doi 10.1088/0957-4484/22/12/125706, abstract, READ: detectable, and 1, 2, 3 layers told apart, in broadband green.
  // With these monolayer tables the green band alone comes near its turning point at two layers on 90 nm, so three bands are asked to part them.
  test('MoS2 and WSe2 monolayers show in green on 90 and 270 nm, and the bands part 1, 2 and 3 layers', () => {
    for (const material of ['mos2', 'wse2'] as const) {
      for (const oxideNm of [90, 270]) {
        const view = { material, oxideNm, numericalAperture: 0.45, lamp: referenceLamp('illuminant-d65'), bands: idealColourBands, layersMax: 3 };
        const { contrast: ladder } = layerCurve(view);
        const apart = (a: number, b: number) => Math.hypot(...[0, 1, 2].map((band) => (ladder[a]?.[band] as number) - (ladder[b]?.[band] as number)));
        expect(ladder[1]?.[1] as number).toBeGreaterThan(0.1);
        for (const [a, b] of [[1, 2], [2, 3], [1, 3]] as const) expect(apart(a, b)).toBeGreaterThan(0.05);
      }
    }
  });

  // Gorbachev et al. 2011, doi 10.1002/smll.201001628: "much smaller than that of graphene" READ; the numbers FROM MEMORY.
  test('one layer of hBN: up to about 3 %, changing sign in the green on 290 nm', () => {
    const wafer = prepareWafer(materials.hbn.table, 0);
    const spectra = reflectanceSpectra(wafer, 290, [0, 0.333]);
    const columns = wafer.wavelengthsNm.length;
    const spectrum = wafer.wavelengthsNm.map((_, i) => 1 - (spectra[columns + i] as number) / (spectra[i] as number));
    const visible = spectrum.filter((_, i) => (wafer.wavelengthsNm[i] as number) >= 450);
    expect(Math.max(...visible)).toBeGreaterThan(0.02);
    expect(Math.max(...visible.map(Math.abs))).toBeLessThan(0.036);
    const at = (nm: number) => spectrum[wafer.wavelengthsNm.indexOf(nm)] as number;
    expect(at(520)).toBeLessThan(0);
    expect(at(610)).toBeGreaterThan(0);
    expect(at(550)).toBeLessThan(contrast(materials.graphene, 1, 290, 550) / 2);
  });

  test('few layers of hBN: contrast linear in the layer number (Krecmarova et al. 2019, doi 10.3390/nano9071047, abstract, READ)', () => {
    const view = { material: 'hbn', oxideNm: 290, numericalAperture: 0, lamp: referenceLamp('illuminant-d65'), bands: idealColourBands } as const;
    const red = thicknessCurve({ ...view, thicknessesNm: [0.333, 1.665] }).contrast.map((row) => row[0] as number);
    const ratio = (red[1] as number) / (5 * (red[0] as number));
    expect(ratio).toBeGreaterThan(0.85);
    expect(ratio).toBeLessThan(1.05);
  });
});

// Colours judged by eye under fluorescent light, University of Illinois fabrication course page GT7 (READ). A subjective list: only which
// channels lead is compared.
describe('colour of oxide on silicon', () => {
  const seen = (oxideNm: number) => {
    const [bare] = coloursSeen({ material: 'graphene', oxideNm, numericalAperture: 0, lamp: referenceLamp('illuminant-d65'), layersMax: 0 });
    const [red, green, blue] = bare?.srgb8 ?? [0, 0, 0];
    return { red, green, blue };
  };
  test.each([
    [120, 'royal blue', 'blue', 'green', 'red'],
    [150, 'light blue', 'blue', 'green', 'red'],
    [220, 'gold', 'red', 'green', 'blue'],
    [270, 'red-violet', 'blue', 'red', 'green'],
    [310, 'blue', 'blue', 'green', 'red'],
    [390, 'yellow', 'green', 'red', 'blue'],
    [440, 'violet-red', 'red', 'blue', 'green'],
    [520, 'green', 'green', 'blue', 'red'],
  ] as const)('%i nm is %s', (oxideNm, _name, first, second, third) => {
    const colour = seen(oxideNm);
    expect(colour[first]).toBeGreaterThan(colour[second]);
    expect(colour[second]).toBeGreaterThan(colour[third]);
  });
});
