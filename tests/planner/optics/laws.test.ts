import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Layer } from '../../../planner/optics/index.ts';
import {
  coneShares,
  curveOn,
  halogen,
  idealColourBands,
  layerCurve,
  materialIds,
  materials,
  prepareWafer,
  reflectanceSpectra,
  stackAt,
  stackReflectance,
  stackShares,
} from '../../../planner/optics/index.ts';
import { siSchinke2015 } from '../../../planner/optics/tables/siSchinke2015.ts';
import { sio2Malitson1965 } from '../../../planner/optics/tables/sio2Malitson1965.ts';

// Laws of physics and of the method; no outside numbers.

const between = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const wavelength = between(380, 780);
const aperture = between(0, 0.95);
const clearLayer: fc.Arbitrary<Layer> = fc.record({ n: between(1, 5), k: fc.constant(0), thicknessNm: between(0, 800) });
const anyLayer: fc.Arbitrary<Layer> = fc.record({ n: between(0.1, 7), k: between(0, 5), thicknessNm: between(0, 800) });
const layers = <T>(layer: fc.Arbitrary<T>) => fc.array(layer, { maxLength: 5 });

describe('energy', () => {
  test('what a lossless stack does not reflect it transmits', () => {
    fc.assert(
      fc.property(layers(clearLayer), between(1, 5), wavelength, aperture, (films, n, nm, na) => {
        const { reflectance, transmittance } = coneShares({ layers: films, substrate: { n, k: 0 } }, nm, na);
        expect(reflectance + transmittance).toBeCloseTo(1, 9);
      }),
    );
  });

  test('an absorbing stack reflects between nothing and everything, and gives back no more than it gets', () => {
    fc.assert(
      fc.property(layers(anyLayer), between(0.1, 7), between(0, 5), wavelength, aperture, (films, n, k, nm, na) => {
        const { reflectance, transmittance } = coneShares({ layers: films, substrate: { n, k } }, nm, na);
        expect(reflectance).toBeGreaterThanOrEqual(0);
        expect(reflectance).toBeLessThanOrEqual(1 + 1e-12);
        expect(transmittance).toBeGreaterThanOrEqual(0);
        expect(reflectance + transmittance).toBeLessThanOrEqual(1 + 1e-9);
      }),
    );
  });
});

test('a film cut in two is the same film', () => {
  fc.assert(
    fc.property(anyLayer, between(0, 1), wavelength, between(0, 0.9), (film, share, nm, sineSquared) => {
      const substrate = { n: 4, k: 0.1 };
      const upper = { ...film, thicknessNm: film.thicknessNm * share };
      const lower = { ...film, thicknessNm: film.thicknessNm * (1 - share) };
      for (const polarisation of ['s', 'p'] as const) {
        const whole = stackShares({ layers: [film], substrate }, nm, sineSquared, polarisation).reflectance;
        expect(stackShares({ layers: [upper, lower], substrate }, nm, sineSquared, polarisation).reflectance).toBeCloseTo(whole, 9);
      }
    }),
  );
});

test('eight directions across the pupil are as good as forty', () => {
  fc.assert(
    fc.property(between(0, 500), wavelength, between(0, 0.9), (oxideNm, nm, na) => {
      const stack = stackAt({ films: [{ table: sio2Malitson1965, thicknessNm: oxideNm }], substrate: siSchinke2015 }, nm);
      expect(Math.abs(stackReflectance(stack, nm, na) - stackReflectance(stack, nm, na, 40))).toBeLessThan(na <= 0.8 ? 1e-6 : 1e-5);
    }),
  );
});

describe('the ladder\'s short cut', () => {
  test('agrees with the characteristic matrices', () => {
    fc.assert(
      fc.property(fc.constantFrom(...materialIds), between(0, 500), between(0, 100), between(0, 0.95), fc.nat(40), (id, oxideNm, filmNm, na, column) => {
        const film = materials[id].table;
        const wafer = prepareWafer(film, na, { stepNm: 10 });
        const nm = wafer.wavelengthsNm[column] as number;
        const films = [{ table: film, thicknessNm: filmNm }, { table: sio2Malitson1965, thicknessNm: oxideNm }];
        const slow = stackReflectance(stackAt({ films, substrate: siSchinke2015 }, nm), nm, na);
        const fast = reflectanceSpectra(wafer, oxideNm, [0, filmNm])[wafer.wavelengthsNm.length + column];
        expect(fast).toBeCloseTo(slow, 10);
      }),
      { numRuns: 60 },
    );
  });

  test('no layers: no contrast, whatever the material', () => {
    for (const material of materialIds) {
      const curve = layerCurve({ material, oxideNm: 285, numericalAperture: 0.45, lamp: halogen, bands: idealColourBands, layersMax: 10 });
      expect(curve.contrast).toHaveLength(11);
      expect(curve.contrast[0]).toEqual([0, 0, 0]);
      expect(curve.reflectance.flat().every((level) => level > 0 && level < 1)).toBe(true);
    }
  });

  test('a wafer prepared once serves every oxide', () => {
    const film = materials.mos2;
    const wafer = prepareWafer(film.table, 0.45);
    for (const oxideNm of [90, 285]) {
      const view = { material: 'mos2', numericalAperture: 0.45, lamp: halogen, bands: idealColourBands, layersMax: 2, oxideNm } as const;
      expect(curveOn(wafer, oxideNm, halogen, idealColourBands, [0, 0.615, 1.23])).toEqual(layerCurve(view));
    }
  });
});
