import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { coneShares, graphite, indexAt, materials, stackReflectance, stackShares } from '../../../planner/optics/index.ts';
import { siSchinke2015 } from '../../../planner/optics/tables/siSchinke2015.ts';

// Closed forms of textbook optics (Hecht, Optics, ch. 4 and 9; Born & Wolf ch. 1), from memory.

const lossless = fc.double({ min: 1.05, max: 4, noNaN: true });
const wavelength = fc.double({ min: 380, max: 780, noNaN: true });

describe('one interface', () => {
  test('bare silicon at normal incidence: ((n - 1)^2 + k^2)/((n + 1)^2 + k^2)', () => {
    for (const nm of [400, 550, 633, 780]) {
      const { n, k } = indexAt(siSchinke2015, nm);
      const expected = ((n - 1) ** 2 + k ** 2) / ((n + 1) ** 2 + k ** 2);
      expect(stackReflectance({ layers: [], substrate: { n, k } }, nm, 0)).toBeCloseTo(expected, 12);
    }
  });

  test('p light is not reflected at Brewster\'s angle, tan t = n', () => {
    fc.assert(
      fc.property(lossless, wavelength, (n, nm) => {
        const sineSquared = (n * n) / (1 + n * n);
        const stack = { layers: [], substrate: { n, k: 0 } };
        expect(stackShares(stack, nm, sineSquared, 'p').reflectance).toBeLessThan(1e-20);
        const s = ((1 - n * n) / (1 + n * n)) ** 2;
        expect(stackShares(stack, nm, sineSquared, 's').reflectance).toBeCloseTo(s, 10);
      }),
    );
  });

  test('s and p at 45 degrees obey R_p = R_s^2 (Fresnel, an identity of that angle)', () => {
    fc.assert(
      fc.property(lossless, fc.double({ min: 0, max: 3, noNaN: true }), (n, k) => {
        const stack = { layers: [], substrate: { n, k } };
        const s = stackShares(stack, 550, 0.5, 's').reflectance;
        expect(stackShares(stack, 550, 0.5, 'p').reflectance).toBeCloseTo(s * s, 10);
      }),
    );
  });
});

describe('one film', () => {
  test('a quarter wave with n1 = sqrt(n2) does not reflect', () => {
    fc.assert(
      fc.property(lossless, wavelength, (n2, nm) => {
        const n1 = Math.sqrt(n2);
        const stack = { layers: [{ n: n1, k: 0, thicknessNm: nm / (4 * n1) }], substrate: { n: n2, k: 0 } };
        expect(stackReflectance(stack, nm, 0)).toBeLessThan(1e-20);
      }),
    );
  });

  test('any quarter wave reflects ((n2 - n1^2)/(n2 + n1^2))^2', () => {
    fc.assert(
      fc.property(lossless, lossless, wavelength, (n1, n2, nm) => {
        const stack = { layers: [{ n: n1, k: 0, thicknessNm: nm / (4 * n1) }], substrate: { n: n2, k: 0 } };
        expect(stackReflectance(stack, nm, 0)).toBeCloseTo(((n2 - n1 * n1) / (n2 + n1 * n1)) ** 2, 10);
      }),
    );
  });

  test('a half wave is not there', () => {
    fc.assert(
      fc.property(lossless, lossless, wavelength, (n1, n2, nm) => {
        const stack = { layers: [{ n: n1, k: 0, thicknessNm: nm / (2 * n1) }], substrate: { n: n2, k: 0 } };
        expect(stackReflectance(stack, nm, 0)).toBeCloseTo(((n2 - 1) / (n2 + 1)) ** 2, 10);
      }),
    );
  });

  // A sheet of the universal conductance e^2/(4 hbar) has eps = 1 + i alpha lambda/(2d); for d -> 0 its transmittance is
  // (1 + pi alpha/2)^-2 (Nair et al. 2008, doi 10.1126/science.1156965: from memory), its reflectance (pi alpha/2)^2 of that.
  test('a free sheet of the universal conductance', () => {
    const alpha = 1 / 137.035999;
    const dNm = 0.001;
    const eps = (alpha * 550) / (2 * dNm);
    const modulus = Math.hypot(1, eps);
    const sheet = { n: Math.sqrt((modulus + 1) / 2), k: Math.sqrt((modulus - 1) / 2), thicknessNm: dNm };
    const shares = coneShares({ layers: [sheet], substrate: { n: 1, k: 0 } }, 550, 0);
    const half = (Math.PI * alpha) / 2;
    expect(shares.transmittance).toBeCloseTo((1 + half) ** -2, 6);
    expect(shares.reflectance).toBeCloseTo((half / (1 + half)) ** 2, 6);
  });
});

test('a film too thick for light to come back reflects like bulk, without overflow', () => {
  const { n, k } = indexAt(graphite.table, 550);
  const thick = { layers: [{ n, k, thicknessNm: 1e6 }], substrate: { n: 1.5, k: 0 } };
  expect(stackReflectance(thick, 550, 0.8)).toBeCloseTo(stackReflectance({ layers: [], substrate: { n, k } }, 550, 0.8), 12);
  expect(coneShares(thick, 550, 0.8).transmittance).toBe(0);
});

test('an aperture that no objective in air has is refused', () => {
  const stack = { layers: [], substrate: indexAt(materials.hbn.table, 550) };
  for (const aperture of [-0.1, 1, 1.4, Number.NaN]) expect(() => stackReflectance(stack, 550, aperture)).toThrow(RangeError);
});
