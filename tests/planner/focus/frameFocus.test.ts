import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { waveDepthOfFieldUm } from '../../../planner/focus/depthOfField.ts';
import { diagonalUm, frameFocus, largestTiltMrad, MOST_SLICES, sliceOf, slopeAt, usableFieldUm } from '../../../planner/focus/frameFocus.ts';
import { fitFocusSurface, zAtUm, type FocusSurface } from '../../../planner/focus/surface.ts';
import { pixelToStage, type FramePose } from '../../../planner/units/index.ts';

/** Protects: the whole frame is in focus, not its middle. */

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
/** A frame of 2448 x 2048 pixels of 3.45 um, with this magnification. */
const frame = (magnification: number): FramePose => ({
  centreUm: { xUm: 45_000, yUm: 25_000 },
  cameraToStageUm: [3.45 / magnification, 0, 0, -3.45 / magnification],
  widthPx: 2448,
  heightPx: 2048,
});

function tilted(xMrad: number, yMrad: number): FocusSurface {
  const points = [[0, 0], [5000, 0], [0, 5000], [5000, 5000]].map(([x = 0, y = 0]) => ({
    atUm: { xUm: 43_000 + x, yUm: 23_000 + y },
    zUm: 1000 + (xMrad * x + yMrad * y) / 1000,
    errorUm: 0.1,
  }));
  const result = fitFocusSurface(points);
  if (!result.ok) throw new Error(result.refusal.code);
  return result.surface;
}

describe('tilt that a frame bears', () => {
  // The project's own rule: beyond about 5 mrad at 10x/0.30 and 4 mrad at 20x/0.45 the whole frame is not in focus any more.
  it.each([[10, 0.3, 5], [20, 0.45, 4]] as const)('%dx/%d: about %d mrad', (magnification, aperture, mrad) => {
    const diagonal = diagonalUm(frame(magnification));
    expect(largestTiltMrad(diagonal, 0, waveDepthOfFieldUm(aperture))).toBeGreaterThan(mrad);
    expect(largestTiltMrad(diagonal, 0, waveDepthOfFieldUm(aperture))).toBeLessThan(mrad * 1.15);
  });

  it('is the field that a tilt bears, read the other way round', () => {
    fc.assert(fc.property(number(0.1, 20), number(0, 1), number(2.1, 8), (mrad, errorUm, depthOfFieldUm) => {
      expect(largestTiltMrad(usableFieldUm(mrad, errorUm, depthOfFieldUm), errorUm, depthOfFieldUm)).toBeCloseTo(mrad, 6);
    }));
    expect(usableFieldUm(0, 0.1, 5)).toBe(Infinity);
    expect(usableFieldUm(3, 3, 5)).toBe(0);
  });

  it('is read off the surface along both axes', () => {
    const { xMrad, yMrad } = slopeAt(tilted(3.2, -1.7), { xUm: 44_000, yUm: 26_000 });
    expect(xMrad).toBeCloseTo(3.2, 6);
    expect(yMrad).toBeCloseTo(-1.7, 6);
  });
});

describe('heights at which a frame is taken', () => {
  it('is one in the middle for a level chip', () => {
    const focus = frameFocus(tilted(0.5, 0), frame(10), 0.7, 0.5, 5.83);
    expect(focus.slices).toHaveLength(1);
    expect(focus.slices[0]?.zUm).toBeCloseTo(zAtUm(tilted(0.5, 0), frame(10).centreUm) + 0.7, 6);
    expect(focus).toMatchObject({ isSharp: true, sharpShare: 1 });
  });

  it('leaves no place of the frame further from its height than half the depth of field less the error (any tilt up to where it says so)', () => {
    fc.assert(fc.property(number(-12, 12), number(-12, 12), number(0, 1.4), (x, y, errorUm) => {
      const surface = tilted(x, y);
      const pose = frame(10);
      const focus = frameFocus(surface, pose, 0, errorUm, 5.83);
      expect(focus.slices.length).toBeLessThanOrEqual(MOST_SLICES);
      if (!focus.isSharp) return;
      for (const [right, down] of [[0, 0], [1, 0], [0, 1], [1, 1], [0.5, 0.5], [0.2, 0.9]] as const) {
        const zUm = zAtUm(surface, pixelToStage(pose, { colPx: right * pose.widthPx, rowPx: down * pose.heightPx }));
        const slice = focus.slices[sliceOf(focus.slices, zUm)];
        expect(Math.abs((slice?.zUm ?? NaN) - zUm) + errorUm).toBeLessThanOrEqual(5.83 / 2 + 1e-6);
      }
    }));
  });

  it('rise, so that each is reached from below', () => {
    const { slices } = frameFocus(tilted(9, 4), frame(10), 0, 0.3, 5.83);
    expect(slices.length).toBeGreaterThan(1);
    slices.slice(1).forEach((slice, i) => expect(slice.zUm).toBeGreaterThan(slices[i]?.zUm ?? NaN));
  });

  it('is one where frames are not to be divided, with the share that is in focus', () => {
    // 10 mrad over a diagonal of 1101 um at the angle of the frame's width: 844.56 um x 10 mrad = 8.45 um of height, of which 5.83 - 2 x 0.3 um are in focus.
    const focus = frameFocus(tilted(10, 0), frame(10), 0, 0.3, 5.83, 1);
    expect(focus.slices).toHaveLength(1);
    expect(focus.isSharp).toBe(false);
    expect(focus.sharpShare).toBeCloseTo((5.83 - 0.6) / 8.4456, 3);
  });
});
