import { describe, expect, test } from 'vitest';
import { alikeLayers, apartAtErrors, contrastError, countedLadder, halogen, idealColourBands, idealMonoBands, lastExactLayer, layerCurve, materialIds } from '../../../planner/optics/index.ts';

// A terrace of 50 um2 at 0.69 um a pixel, 1 % noise a pixel.
const measurement = { noise: 0.01, pixels: 105 };
const view = { numericalAperture: 0.3, lamp: halogen, bands: idealColourBands } as const;

describe('which layer numbers are alike', () => {
  test('the error of a contrast, by hand: 200 pixels of 3 % noise give sqrt(2 0.03^2/200) = 0.003; with 0.004 unevenness 0.005; a quarter of the light doubles the first', () => {
    expect(contrastError({ noise: 0.03, pixels: 200, unevenness: 0 }, 0)).toBeCloseTo(0.003, 12);
    expect(contrastError({ noise: [0.5, 0.03], pixels: 200, unevenness: 0.004 }, 1)).toBeCloseTo(0.005, 12);
    expect(contrastError({ noise: 0.03, pixels: 200, unevenness: 0 }, 0, 0.25)).toBeCloseTo(0.006, 12);
  });

  test('a made-up ladder, by hand', () => {
    // Errors 0.01 in both channels: 0.04 apart is needed in one, 4 errors in both.
    const exact = { noise: 0.1, pixels: 200, unevenness: 0 };
    const alike = alikeLayers([[0, 0], [0.1, 0.03], [0.12, 0.08], [0.01, 0.01]], exact);
    expect(alike.map(({ kind, layers }) => [kind, ...layers])).toEqual([
      ['alikeInChannel', 1, 2],
      ['alikeInChannel', 0, 1],
      ['alikeInAll', 0, 3],
    ]);
    expect(alike[0]).toMatchObject({ channel: 0, difference: expect.closeTo(0.02, 9) as number, needed: expect.closeTo(0.04, 9) as number });
    expect(alike[2]).toMatchObject({ difference: expect.closeTo(Math.SQRT2, 9) as number, needed: apartAtErrors });
  });

  const lostIn = (material: 'graphene' | 'hbn', oxideNm: number, channel: number): boolean =>
    alikeLayers(layerCurve({ ...view, material, oxideNm, layersMax: 6 }).contrast, measurement).some((one) => one.kind === 'alikeInChannel' && one.channel === channel && one.layers[0] === 0);

  // Blake et al. 2007, doi 10.1063/1.2768624, introduction, READ: 315 nm instead of 300 nm can significantly lower the contrast.
  test('graphene on 315 nm is lost in green, not in red; on 90 and 285 nm it is seen in both', () => {
    expect(lostIn('graphene', 315, 1)).toBe(true);
    expect(lostIn('graphene', 315, 0)).toBe(false);
    for (const oxideNm of [90, 285]) for (const channel of [0, 1]) expect(lostIn('graphene', oxideNm, channel)).toBe(false);
  });

  // Gorbachev et al. 2011, doi 10.1002/smll.201001628, abstract, READ: hBN is far fainter than graphene, single layers need the right viewing conditions.
  test('one layer of hBN is lost to a camera without a filter', () => {
    for (const oxideNm of [285, 290]) {
      const { contrast } = layerCurve({ ...view, material: 'hbn', oxideNm, bands: idealMonoBands, layersMax: 2 });
      expect(alikeLayers(contrast, measurement)).toContainEqual(expect.objectContaining({ kind: 'alikeInAll', layers: [0, 1] }));
      const filtered = layerCurve({ ...view, material: 'hbn', oxideNm, bands: idealMonoBands, layersMax: 1, lamp: { kind: 'filtered', lamp: halogen, filter: { centreNm: 515, widthNm: 40 } }, stepNm: 1 });
      expect(alikeLayers(filtered.contrast, measurement)).toEqual([]);
    }
  });

  // Independent calculation of tests/reference (NA 0, 550 nm): graphene on bare silicon has a contrast of -0.0065 only.
  test('graphene on bare silicon is lost in every channel, and slightly brighter', () => {
    const { contrast } = layerCurve({ ...view, material: 'graphene', oxideNm: 0, layersMax: 1 });
    expect(alikeLayers(contrast, measurement).map(({ kind }) => kind)).toEqual(['alikeInChannel', 'alikeInChannel', 'alikeInChannel', 'alikeInAll']);
    contrast[1]?.forEach((value) => expect(value).toBeLessThan(0));
    const narrow = layerCurve({ material: 'graphene', oxideNm: 0, numericalAperture: 0, bands: idealMonoBands, lamp: { kind: 'filtered', lamp: halogen, filter: { centreNm: 550, widthNm: 1 } }, layersMax: 1, stepNm: 1 });
    expect(Math.abs((narrow.contrast[1]?.[0] as number) - -0.0065)).toBeLessThan(0.0001);
  });
});

describe('the counted ladder', () => {
  test.each(materialIds)('%s: one table throughout, a range above six layers that holds the rung and at least a neighbour', (material) => {
    const options = { ...view, material, oxideNm: 290, layersMax: 10 } as const;
    const ladder = countedLadder(options);
    expect(ladder.map(({ contrast }) => contrast)).toEqual(layerCurve(options).contrast);
    for (const { layers, contrast, range } of ladder) {
      expect(range !== undefined).toBe(layers > lastExactLayer);
      if (!range) continue;
      contrast.forEach((value, channel) => {
        expect(range.low[channel] as number).toBeLessThanOrEqual(value);
        expect(range.high[channel] as number).toBeGreaterThanOrEqual(value);
      });
      expect(range.layers[0]).toBeLessThanOrEqual(layers);
      expect(range.layers[1]).toBeGreaterThan(layers);
    }
  });

  test('up to six layers nothing changes when more are asked for', () => {
    const options = { ...view, material: 'graphene', oxideNm: 290 } as const;
    expect(countedLadder({ ...options, layersMax: 10 }).slice(0, 7)).toEqual(countedLadder({ ...options, layersMax: 6 }));
  });
});
