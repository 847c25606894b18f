import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cameraToStage, fieldOfView, pixelSizeUm } from '../../../planner/plan/objective.ts';
import { pixelAreaUm2 } from '../../../planner/units/index.ts';

describe('objective', () => {
  it('gives the field of the usual camera at 10x: 844.56 x 706.56 um (2448 and 2048 times 0.345 um)', () => {
    const field = fieldOfView(2448, 2048, cameraToStage(pixelSizeUm(3.45, 10), 31, true));
    expect(field.widthUm).toBeCloseTo(844.56, 9);
    expect(field.heightUm).toBeCloseTo(706.56, 9);
  });

  it('agrees with the matrix of frame set b-worn-285: 0.69 um per pixel, turned by 1.3 degrees, mirrored', () => {
    // Printed in that set's frame-set.json, to six decimals.
    const printed = [0.689822, 0.015654, 0.015654, -0.689822];
    cameraToStage(0.69, 1.3, true).forEach((value, i) => expect(value).toBeCloseTo(printed[i] ?? NaN, 6));
  });

  it('agrees with the matrix of frame set f-large-290: turned by -0.7 degrees, not mirrored', () => {
    const printed = [0.689949, 0.00843, -0.00843, 0.689949];
    cameraToStage(0.69, -0.7, false).forEach((value, i) => expect(value).toBeCloseTo(printed[i] ?? NaN, 5));
  });

  it('keeps the area of a pixel, and shows mirroring by the sign of the determinant', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.01, max: 5, noNaN: true }), fc.double({ min: -360, max: 360, noNaN: true }), fc.boolean(), (pixelUm, angle, mirrored) => {
        const m = cameraToStage(pixelUm, angle, mirrored);
        expect(pixelAreaUm2(m) / pixelUm ** 2).toBeCloseTo(1, 9);
        expect(Math.sign(m[0] * m[3] - m[1] * m[2])).toBe(mirrored ? -1 : 1);
      }),
    );
  });

  it('refuses a magnification of zero', () => {
    expect(() => pixelSizeUm(3.45, 0)).toThrow(RangeError);
  });
});
