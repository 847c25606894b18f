import { describe, expect, it } from 'vitest';
import { depthOfFieldUm, waveDepthOfFieldUm } from '../../../planner/focus/depthOfField.ts';

describe('depth of field', () => {
  // A microscope maker's education site, table of objectives, full depths in um. Its row 20x/0.40 5.8 um is left out: it fits an aperture of
  // 0.30 and seems to be a slip of the page.
  it.each([
    [0.1, 55.5, 1],
    [0.25, 8.5, 0.1],
    [0.65, 1.0, 0.05],
    [0.85, 0.4, 0.02],
    [0.95, 0.19, 0.005],
  ])('agrees with the published table at NA %d: %d um', (aperture, publishedUm, withinUm) => {
    expect(Math.abs(waveDepthOfFieldUm(aperture) - publishedUm)).toBeLessThan(withinUm);
  });

  it('lies below lambda/NA^2 (Fundamentals of Light Microscopy and Electronic Imaging, p. 90) and near the exact quarter wave', () => {
    for (const aperture of [0.25, 0.3, 0.45, 0.55]) {
      const quarterWaveUm = 0.55 / (2 * (1 - Math.sqrt(1 - aperture ** 2)));
      expect(waveDepthOfFieldUm(aperture)).toBeLessThan(0.55 / aperture ** 2);
      expect(waveDepthOfFieldUm(aperture) / quarterWaveUm).toBeGreaterThan(0.9);
    }
  });

  it('adds one pixel of blur: 0.345 um at NA 0.3 are 1.15 um more', () => {
    expect(depthOfFieldUm(0.3, 0.345) - depthOfFieldUm(0.3)).toBeCloseTo(1.15, 9);
  });

  it('grows with the wavelength, and refuses apertures that are none', () => {
    expect(waveDepthOfFieldUm(0.3, 650) / waveDepthOfFieldUm(0.3, 550)).toBeCloseTo(650 / 550, 9);
    for (const aperture of [0, 1, 1.4, NaN]) expect(() => waveDepthOfFieldUm(aperture)).toThrow(RangeError);
  });
});
