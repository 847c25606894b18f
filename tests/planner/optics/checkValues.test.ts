import { describe, expect, test } from 'vitest';
import type { IndexTable } from '../../../planner/optics/index.ts';
import {
  bandReflectance,
  coloursSeen,
  constantIndex,
  graphite,
  halogen,
  idealColourBands,
  indexAt,
  layerCurve,
  materials,
  stackAt,
  stackReflectance,
} from '../../../planner/optics/index.ts';
import { siSchinke2015 } from '../../../planner/optics/tables/siSchinke2015.ts';
import { sio2Malitson1965 } from '../../../planner/optics/tables/sio2Malitson1965.ts';
import type { BroadbandBlock, MonochromaticCase } from './reference.ts';
import { allowed, examples, referenceLamp } from './reference.ts';

// Source of every number here: tests/reference/optics-examples.json, an independent transfer-matrix calculation (see nk-source.md).

const tables = new Map([...Object.values(materials), graphite].map((film) => [film.table.name, film.table]));

/** The case's film: our table of that name, or (graphene-song2018, which the planner does not hold) the index printed in the case. */
function filmTable(one: MonochromaticCase): IndexTable {
  const [n, k] = one.n_film;
  return tables.get(one.film) ?? constantIndex(one.film, { n, k });
}

function expectClose(actual: readonly number[], expected: readonly number[]): void {
  expect(actual).toHaveLength(expected.length);
  expected.forEach((value, i) => expect(Math.abs((actual[i] as number) - value), `item ${i}: ${actual[i]} for ${value}`).toBeLessThanOrEqual(allowed(value)));
}

test('the examples are all there', () => {
  expect(examples.cases).toHaveLength(16);
  expect(examples.broadband).toHaveLength(7);
  expect(examples.broadband.every((block) => block.graphene.length === 10)).toBe(true);
});

describe.each(examples.cases)('monochromatic $id: $film, $oxide_nm nm oxide, $wavelength_nm nm, NA $NA', (one) => {
  test('indices', () => {
    const indices = [filmTable(one), sio2Malitson1965, siSchinke2015].map((table) => indexAt(table, one.wavelength_nm));
    expectClose(indices.flatMap(({ n, k }) => [n, k]), [...one.n_film, ...one.n_oxide, ...one.n_si]);
  });

  test('reflectance and contrast', () => {
    const oxide = { table: sio2Malitson1965, thicknessNm: one.oxide_nm };
    const film = { table: filmTable(one), thicknessNm: one.film_thickness_nm };
    const reflectance = (films: readonly (typeof film)[]) =>
      stackReflectance(stackAt({ films, substrate: siSchinke2015 }, one.wavelength_nm), one.wavelength_nm, one.NA);
    const bare = reflectance([oxide]);
    const covered = reflectance([film, oxide]);
    expectClose([bare, covered, (bare - covered) / bare], [one.R0, one.R, one.contrast]);
  });
});

describe.each(examples.broadband)('broadband: $oxide_nm nm oxide, $illuminant, NA $NA', (block: BroadbandBlock) => {
  const view = { material: 'graphene', oxideNm: block.oxide_nm, numericalAperture: block.NA, lamp: referenceLamp(block.illuminant), layersMax: 10 } as const;
  const curve = layerCurve({ ...view, bands: idealColourBands });
  const colours = coloursSeen(view);

  test('bare oxide in the camera bands', () => {
    expectClose(curve.substrate, block.bands);
    expect(curve.reflectance[0]).toEqual(curve.substrate);
    const slow = { films: [{ table: sio2Malitson1965, thicknessNm: block.oxide_nm }], substrate: siSchinke2015 };
    expectClose(bandReflectance(slow, view.lamp, idealColourBands, block.NA), block.bands);
  });

  test.each(block.graphene)('contrast of $layers layers in the bands', ({ layers, contrast_bands: expected }) => {
    expectClose(curve.contrast[layers] as number[], expected);
  });

  test('bare oxide to the eye', () => {
    const bare = colours[0];
    expectClose((bare?.xyz ?? []).map((value) => value / 100), block.XYZ.map((value) => value / 100));
    expectClose(bare?.linearSrgb ?? [], block.linear_srgb);
    expectClose(bare?.balancedSrgb ?? [], block.linear_srgb_white_balanced);
    expect(bare?.srgb8).toEqual(block.srgb8_white_balanced);
  });

  test.each(block.graphene)('contrast of $layers layers to the eye', ({ layers, contrast_linear_srgb: expected, contrast_Y: expectedY }) => {
    const bare = [...(colours[0]?.linearSrgb ?? []), colours[0]?.xyz[1] as number];
    const seen = [...(colours[layers]?.linearSrgb ?? []), colours[layers]?.xyz[1] as number];
    expectClose(seen.map((value, i) => 1 - value / (bare[i] as number)), [...expected, expectedY]);
  });
});

test('the halogen lamp is the Planckian lamp of the examples', () => {
  const block = examples.broadband.find(({ illuminant, oxide_nm }) => illuminant === 'planck-3200k' && oxide_nm === 290) as BroadbandBlock;
  const curve = layerCurve({ material: 'graphene', oxideNm: 290, numericalAperture: 0, lamp: halogen, bands: idealColourBands, layersMax: 1 });
  expectClose(curve.contrast[1] as number[], block.graphene[0]?.contrast_bands ?? []);
});
