import { describe, expect, test } from 'vitest';
import { coloursSeen, coneShares, graphite, indexAt, materials } from '../../../planner/optics/index.ts';
import { referenceLamp } from './reference.ts';

// Blake et al. 2007, doi 10.1063/1.2768624, introduction, READ: bare 300 nm oxide is purple to violet under a microscope (row 0 below).
// The rest is common practice, no source: what people at the eyepieces know of graphite on 300 nm oxide. The objective is one that they work with, NA 0.8.

describe('graphite on 300 nm oxide to the eye', () => {
  const seen = (film: 'graphene' | typeof graphite, layersMax: number) =>
    coloursSeen({ material: film, oxideNm: 300, numericalAperture: 0.8, lamp: referenceLamp('illuminant-d65'), layersMax });

  test.each([['graphene', 'graphene' as const], ['graphite', graphite]])('%s below ten layers is a shade of purple (blue, then red, then green), thick graphite is blue', (_name, film) => {
    for (const { srgb8: [red, green, blue] } of seen(film, 9)) {
      expect(blue).toBeGreaterThan(red);
      expect(red).toBeGreaterThan(green);
    }
    const [red, green, blue] = seen(graphite, 40)[40]?.srgb8 ?? [0, 0, 0];
    expect(blue).toBeGreaterThan(green);
    expect(green).toBeGreaterThan(red);
  });

  test('thin flakes are darker than the substrate, the thinnest the faintest', () => {
    const brightness = seen('graphene', 10).map(({ xyz }) => xyz[1]);
    brightness.slice(1).forEach((value, i) => expect(value).toBeLessThan(brightness[i] as number));
  });

  test('one layer passes about 97 to 98 % of light', () => {
    for (let nm = 450; nm <= 700; nm += 50) {
      const free = { layers: [{ ...indexAt(materials.graphene.table, nm), thicknessNm: 0.34 }], substrate: { n: 1, k: 0 } };
      const passed = coneShares(free, nm, 0).transmittance;
      expect(passed).toBeGreaterThan(0.965);
      expect(passed).toBeLessThan(0.985);
    }
  });
});
