import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { complex } from '../../simulators/optics/complexNumber.ts';
import { filmColour, oxideIndex } from '../../simulators/optics/films.ts';
import { createLightPath, meanWavelengthNm } from '../../simulators/optics/lightPath.ts';
import { coneReflectance, reflectanceAt } from '../../simulators/optics/reflectance.ts';

interface Example {
  readonly id: string;
  readonly film_thickness_nm: number;
  readonly oxide_nm: number;
  readonly wavelength_nm: number;
  readonly NA: number;
  readonly n_film: readonly [number, number];
  readonly n_oxide: readonly [number, number];
  readonly n_si: readonly [number, number];
  readonly R0: number;
  readonly R: number;
}

// An independent transfer-matrix calculation; its conventions and sources are written in the file.
const examples = (JSON.parse(readFileSync('tests/reference/optics-examples.json', 'utf8')) as { cases: readonly Example[] }).cases;

describe('the simulator\'s own thin-film optics', () => {
  it.each(examples.map((example) => [example.id, example] as const))('agrees with the independent calculation %s', (_, example) => {
    const film = { index: complex(...example.n_film), thicknessNm: example.film_thickness_nm };
    const oxide = { index: complex(...example.n_oxide), thicknessNm: example.oxide_nm };
    const silicon = complex(...example.n_si);
    const bare = coneReflectance([oxide], silicon, example.wavelength_nm, example.NA, 400);
    const covered = coneReflectance([film, oxide], silicon, example.wavelength_nm, example.NA, 400);
    expect(Math.abs(bare / example.R0 - 1)).toBeLessThan(1e-4);
    expect(Math.abs(covered / example.R - 1)).toBeLessThan(1e-4);
  });

  it('takes few enough rings of the pupil to be quick and enough to be right', () => {
    const oxide = [{ index: oxideIndex(550), thicknessNm: 290 }];
    const fine = coneReflectance(oxide, complex(4.07, 0.028), 550, 0.45, 400);
    expect(Math.abs(coneReflectance(oxide, complex(4.07, 0.028), 550, 0.45) / fine - 1)).toBeLessThan(0.003);
  });

  it('reflects from a bare surface as Fresnel says, and no p light at Brewster\'s angle', () => {
    // |(1 - n)/(1 + n)|^2 at normal incidence; tan(angle) = n (D. Brewster, 1815).
    expect(reflectanceAt([], complex(1.5), 550, 0, 's')).toBeCloseTo(0.04, 12);
    const brewster = Math.sin(Math.atan(1.5));
    expect(reflectanceAt([], complex(1.5), 550, brewster, 'p')).toBeCloseTo(0, 12);
    expect(reflectanceAt([], complex(1.5), 550, brewster, 's')).toBeGreaterThan(0.1);
  });

  it('has an oxide a little denser than fused silica', () => {
    // 1.4585 at 587.6 nm: the handbook value of fused silica (from memory), raised by 0.3 %.
    expect(oxideIndex(587.6).re / 1.003).toBeCloseTo(1.4585, 4);
  });

  it('is white-balanced on a mirror, with channels in the order red, green, blue', () => {
    for (const lamp of ['halogen', 'whiteLed'] as const) {
      const { weights, flare, pupilFilling } = createLightPath(3, lamp);
      for (const channel of weights) expect(channel.reduce((sum, weight) => sum + weight, 0)).toBeCloseTo(1, 9);
      const [red, green, blue] = weights.map(meanWavelengthNm) as [number, number, number];
      expect(red).toBeGreaterThan(green + 30);
      expect(green).toBeGreaterThan(blue + 30);
      expect(flare).toBeLessThanOrEqual(0.03);
      expect(pupilFilling).toBeLessThanOrEqual(1);
    }
  });

  it('draws another light path from another seed', () => {
    expect(createLightPath(1, 'halogen')).toEqual(createLightPath(1, 'halogen'));
    expect(createLightPath(1, 'halogen').weights).not.toEqual(createLightPath(2, 'halogen').weights);
  });

  it('shows two layers of graphene 1.8 to 2 times as strongly as one', () => {
    // Abergel et al. 2007 (arXiv 0705.0091): a bilayer is "approximately twice as visible"; 1.84 to 1.93 over published tables at 550 nm.
    const path = createLightPath(4, 'halogen');
    for (const oxideNm of [90, 285, 290]) {
      const bare = filmColour(path, 0.3, oxideNm)[1];
      const one = 1 - filmColour(path, 0.3, oxideNm, { material: 'graphene', thicknessNm: 0.335 })[1] / bare;
      const two = 1 - filmColour(path, 0.3, oxideNm, { material: 'graphene', thicknessNm: 0.67 })[1] / bare;
      expect(one).toBeGreaterThan(0.05);
      expect(two / one).toBeGreaterThan(1.8);
      expect(two / one).toBeLessThan(2);
    }
  });
});
