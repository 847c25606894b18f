import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { BestFilter, ViewOptions } from '../../../planner/optics/index.ts';
import {
  bandReflectance,
  bestFilter,
  channelLight,
  equalEnergy,
  filterTransmittance,
  halogen,
  idealColourBands,
  idealMonoBands,
  lampPower,
  layerCurve,
  observerBands,
  resampleEven,
  stackAt,
  stackReflectance,
} from '../../../planner/optics/index.ts';
import { siSchinke2015 } from '../../../planner/optics/tables/siSchinke2015.ts';
import { sio2Malitson1965 } from '../../../planner/optics/tables/sio2Malitson1965.ts';
import { examples, referenceLamp } from './reference.ts';

describe('a band-pass filter', () => {
  test('passes all in its middle, half at its edges, nearly nothing a width away (its definition)', () => {
    fc.assert(
      fc.property(fc.double({ min: 400, max: 750, noNaN: true }), fc.double({ min: 4, max: 300, noNaN: true }), (centreNm, widthNm) => {
        const filter = { centreNm, widthNm };
        expect(filterTransmittance(filter, centreNm)).toBe(1);
        for (const side of [-1, 1]) {
          expect(filterTransmittance(filter, centreNm + (side * widthNm) / 2)).toBeCloseTo(0.5, 9);
          expect(filterTransmittance(filter, centreNm + side * widthNm)).toBeLessThan(1e-15);
        }
        expect(lampPower({ kind: 'filtered', lamp: halogen, filter }, centreNm)).toBe(lampPower(halogen, centreNm));
      }),
    );
  });

  test('when narrow gives the reflectance of its wavelength, whatever the band', () => {
    const design = { films: [{ table: sio2Malitson1965, thicknessNm: 290 }], substrate: siSchinke2015 };
    const lamp = { kind: 'filtered', lamp: halogen, filter: { centreNm: 590, widthNm: 1 } } as const;
    const expected = stackReflectance(stackAt(design, 590), 590, 0.45);
    for (const level of bandReflectance(design, lamp, idealColourBands, 0.45, 1)) expect(level).toBeCloseTo(expected, 12);
  });

  test('leaves a channel dark that does not see its band, and says so', () => {
    const [x, , z] = channelLight({ kind: 'filtered', lamp: equalEnergy, filter: { centreNm: 720, widthNm: 20 } }, observerBands);
    expect(z).toEqual({ power: 0, meanNm: null });
    expect(Math.abs((x?.meanNm as number) - 715)).toBeLessThan(6);
  });
});

test('the observer as a camera: its Y channel is the Y of the independent calculation', () => {
  expect(examples.broadband.length).toBeGreaterThan(0);
  for (const block of examples.broadband) {
    const view = { material: 'graphene', oxideNm: block.oxide_nm, numericalAperture: block.NA, lamp: referenceLamp(block.illuminant), bands: observerBands, layersMax: 10 } as const;
    const { substrate, contrast } = layerCurve(view);
    expect(Math.abs((substrate[1] as number) - (block.XYZ[1] as number) / 100)).toBeLessThan(1e-6 + 1e-4 * (substrate[1] as number));
    for (const { layers, contrast_Y: expected } of block.graphene) expect(Math.abs((contrast[layers]?.[1] as number) - expected)).toBeLessThan(1e-6 + 1e-4 * Math.abs(expected));
  }
});

describe('best filter for an oxide', () => {
  const measurement = { noise: 0.01, pixels: 105 };
  const find = (view: Pick<ViewOptions, 'material' | 'oxideNm' | 'bands'>): BestFilter => bestFilter({ ...view, numericalAperture: 0.3, lamp: halogen, measurement });

  // Krecmarova et al. 2019, doi 10.3390/nano9071047, abstract, READ: band-pass filters of 500 to 650 nm help with few layers of hBN.
  test('one layer of hBN is lost on 290 nm without a filter, and seen with one between 500 and 650 nm', () => {
    const best = find({ material: 'hbn', oxideNm: 290, bands: idealMonoBands });
    expect(best.unfiltered.errors).toBeLessThan(1);
    expect(best.errors).toBeGreaterThan(4);
    expect(best.filter.centreNm).toBeGreaterThanOrEqual(500);
    expect(best.filter.centreNm).toBeLessThanOrEqual(650);
  });

  // A university group's wiki page, READ: contrast of graphene peaks at about 560 nm on "300 nm" oxide. Such wafers measure 285 to 290 nm (common practice, no source).
  test('graphene on 285 nm: near 560 nm', () => {
    expect(Math.abs(find({ material: 'graphene', oxideNm: 285, bands: idealMonoBands }).filter.centreNm - 560)).toBeLessThanOrEqual(20);
  });

  test('agrees with the ladder through that filter, and beats every filter beside it', () => {
    const view = { material: 'graphene', oxideNm: 300, bands: idealMonoBands } as const;
    const best = find(view);
    const lamp = { kind: 'filtered', lamp: halogen, filter: best.filter } as const;
    const { contrast } = layerCurve({ ...view, numericalAperture: 0.3, lamp, layersMax: 1, stepNm: 1 });
    expect(contrast[1]?.[0]).toBeCloseTo(best.contrast[0] as number, 9);
    for (const [dCentre, dWidth] of [[-5, 0], [5, 0], [0, -10], [0, 10]] as const) {
      const other = bestFilter({ ...view, numericalAperture: 0.3, lamp: halogen, measurement, centresNm: [best.filter.centreNm + dCentre], widthsNm: [best.filter.widthNm + dWidth] });
      expect(other.errors).toBeLessThanOrEqual(best.errors);
    }
  });

  test('the noisier the camera, the wider the filter', () => {
    const widthAt = (noise: number): number =>
      bestFilter({ material: 'graphene', oxideNm: 300, bands: idealMonoBands, numericalAperture: 0.3, lamp: halogen, measurement: { noise, pixels: 105 } }).filter.widthNm;
    expect(widthAt(0.0001)).toBe(10);
    expect(widthAt(0.2)).toBeGreaterThan(widthAt(0.01));
  });

  test('without filters to choose from it refuses', () => {
    expect(() => bestFilter({ material: 'graphene', oxideNm: 300, bands: idealMonoBands, numericalAperture: 0.3, lamp: halogen, measurement, widthsNm: [] })).toThrow(RangeError);
  });
});

describe('a column brought to even steps', () => {
  test('keeps a straight line, and holds or drops what lies outside', () => {
    fc.assert(
      fc.property(fc.uniqueArray(fc.integer({ min: 400, max: 700 }), { minLength: 2, maxLength: 30 }), fc.double({ min: -1, max: 1, noNaN: true }), (places, slope) => {
        const nm = [...places].sort((a, b) => a - b);
        const line = (x: number): number => 3 + slope * (x - 500);
        const [first, last] = [nm[0] as number, nm.at(-1) as number];
        const held = resampleEven(nm, nm.map(line), 380, 1, 401);
        const dropped = resampleEven(nm, nm.map(line), 380, 1, 401, 0);
        held.forEach((value, i) => {
          const at = 380 + i;
          expect(value).toBeCloseTo(line(Math.min(Math.max(at, first), last)), 8);
          expect(dropped[i]).toBeCloseTo(at < first || at > last ? 0 : line(at), 8);
        });
      }),
    );
  });
});
