import { describe, expect, test } from 'vitest';
import type { BandSet } from '../../../planner/optics/index.ts';
import {
  bandReflectance,
  bandSensitivity,
  bandWeights,
  colourOf,
  constantIndex,
  equalEnergy,
  halogen,
  idealColourBands,
  idealMonoBands,
  lampPower,
  materialIds,
  materials,
  spectralGrid,
  whiteLed,
} from '../../../planner/optics/index.ts';
import { gaussLegendre } from '../../../planner/optics/quadrature.ts';
import { allowed, referenceLamp, referenceSpectrum } from './reference.ts';

describe('lamps', () => {
  // tests/reference/optics-planck-3200k.csv: Planck's formula, computed elsewhere; 100 at 560 nm.
  test('the halogen lamp is Planck at 3200 K', () => {
    const table = referenceSpectrum('planck-3200k');
    expect(table).toHaveLength(81);
    spectralGrid().forEach((nm, i) => expect(Math.abs(100 * lampPower(halogen, nm) - (table[i] as number))).toBeLessThan(allowed(table[i] as number)));
  });

  // Wien's displacement law, b = 2.897771955e6 nm K (CODATA 2018, from memory).
  test('a black body peaks where Wien says', () => {
    const temperatureK = 5000;
    const wienNm = 2.897771955e6 / temperatureK;
    const power = (nm: number) => lampPower({ kind: 'planck', temperatureK }, nm);
    expect(power(wienNm)).toBeGreaterThan(power(wienNm - 2));
    expect(power(wienNm)).toBeGreaterThan(power(wienNm + 2));
  });

  test('the white LED has a blue pump, a dip near 490 nm and a broad phosphor (common practice, no source)', () => {
    const power = (nm: number) => lampPower(whiteLed, nm);
    expect(power(452)).toBeGreaterThan(2 * power(490));
    expect(power(560)).toBeGreaterThan(2 * power(490));
    expect(power(650)).toBeGreaterThan(0.2);
    expect(power(400)).toBeLessThan(0.01);
  });
});

describe('bands', () => {
  test('a Gaussian band falls to half at 1.17741 sigma', () => {
    for (const band of idealColourBands.bands) {
      if (band.kind !== 'gaussian') throw new Error('the ideal bands are Gaussians');
      expect(bandSensitivity(band, band.centreNm + 1.17741 * band.sigmaNm)).toBeCloseTo(0.5, 5);
    }
  });

  test('weights of each channel add up to 1, and a grey surface has one level in all', () => {
    for (const bands of [idealColourBands, idealMonoBands]) {
      const weights = bandWeights(halogen, bands, spectralGrid());
      weights.forEach((channel) => expect(channel.reduce((sum, weight) => sum + weight, 0)).toBeCloseTo(1, 12));
      const grey = { films: [], substrate: constantIndex('grey', { n: 3, k: 0 }) };
      bandReflectance(grey, whiteLed, bands, 0).forEach((level) => expect(level).toBeCloseTo(0.25, 12));
    }
  });

  test('a table can stand in for a Gaussian', () => {
    const grid = spectralGrid(1);
    const tabulated: BandSet = {
      name: 'the same as tables',
      bands: idealColourBands.bands.map((band) => ({ kind: 'tabulated', startNm: 380, stepNm: 1, sensitivity: grid.map((nm) => bandSensitivity(band, nm)) })),
    };
    expect(bandWeights(equalEnergy, tabulated, spectralGrid())).toEqual(bandWeights(equalEnergy, idealColourBands, spectralGrid()));
  });
});

// CIE 015: white points of D65 (95.04, 100, 108.88) and of equal energy (100, 100, 100), 2 degree observer.
test('a perfect mirror has the white of its lamp', () => {
  const mirror = spectralGrid().map(() => 1);
  const daylight = colourOf(spectralGrid(), mirror, referenceLamp('illuminant-d65'));
  [95.043, 100, 108.88].forEach((value, i) => expect(daylight.xyz[i]).toBeCloseTo(value, 2));
  expect(daylight.srgb8).toEqual([255, 255, 255]);
  colourOf(spectralGrid(), mirror, equalEnergy).xyz.forEach((value) => expect(value).toBeCloseTo(100, 1));
});

describe('quadrature', () => {
  // Abramowitz & Stegun table 25.4, n = 4 (from memory), moved from -1..1 to 0..1.
  test('four nodes are the handbook\'s', () => {
    const { nodes, weights } = gaussLegendre(4);
    [-0.861136311594053, -0.339981043584856, 0.339981043584856, 0.861136311594053].forEach((x, i) => expect(nodes[i]).toBeCloseTo((1 + x) / 2, 14));
    [0.347854845137454, 0.652145154862546, 0.652145154862546, 0.347854845137454].forEach((w, i) => expect(weights[i]).toBeCloseTo(w / 2, 14));
  });

  test('n nodes integrate powers up to 2n - 1 exactly, and not 2n', () => {
    for (const order of [1, 2, 3, 8, 20]) {
      const { nodes, weights } = gaussLegendre(order);
      const power = (degree: number) => nodes.reduce((sum, node, i) => sum + (weights[i] as number) * node ** degree, 0);
      for (let degree = 0; degree < 2 * order; degree++) expect(power(degree)).toBeCloseTo(1 / (degree + 1), 12);
    }
    const three = gaussLegendre(3);
    const sixth = three.nodes.reduce((sum, node, i) => sum + (three.weights[i] as number) * node ** 6, 0);
    expect(Math.abs(sixth - 1 / 7)).toBeGreaterThan(1e-4);
  });

  test('an order that makes no sense is refused', () => {
    for (const order of [0, 1.5, 65]) expect(() => gaussLegendre(order)).toThrow(RangeError);
  });
});

test('every table covers the visible and absorbs or is clear, never gains', () => {
  for (const id of materialIds) {
    const { table, layerThicknessNm } = materials[id];
    expect(table.startNm).toBeLessThanOrEqual(397);
    expect(table.startNm + (table.n.length - 1) * table.stepNm).toBe(780);
    expect([1, table.n.length]).toContain(table.k.length);
    expect(Math.min(...table.k)).toBeGreaterThanOrEqual(0);
    expect(layerThicknessNm).toBeGreaterThan(0.3);
    expect(layerThicknessNm).toBeLessThan(0.7);
  }
});
