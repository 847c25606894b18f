import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { pixelToStage } from '../../planner/units/index.ts';
import { frameCorners } from '../../ui/map/view.ts';
import { boxOf, insideOutline, outlineInPixels, outlineLengthUm, pictureScale, place } from '../../ui/pictures/pose.ts';
import { drawOut, stretchTable, substrateLevels, toByte, toLinear } from '../../ui/pictures/stretch.ts';

describe('contrast drawn out', () => {
  // IEC 61966-2-1: threshold 0.04045, slope 12.92, exponent 2.4. The four values were computed from it by hand with a calculator.
  it('knows sRGB', () => {
    expect(toLinear(255)).toBe(1);
    expect(toLinear(128)).toBeCloseTo(0.215861, 5);
    expect(toLinear(10)).toBeCloseTo(10 / 255 / 12.92, 9);
    expect(toByte(0.5)).toBe(188);
    for (let byte = 0; byte < 256; byte += 1) expect(toByte(toLinear(byte))).toBe(byte);
  });

  it('multiplies the contrast (R0 - R)/R0 by its factor and leaves the substrate alone', () => {
    fc.assert(fc.property(fc.integer({ min: 60, max: 180 }), fc.integer({ min: -10, max: 10 }), (level, difference) => {
      const table = stretchTable(level, 2.4);
      expect(table[level]).toBe(level);
      const contrast = (byte: number): number => (toLinear(level) - toLinear(byte)) / toLinear(level);
      // Half a step of the eight-bit result is all that may be lost.
      const step = (toLinear(level + 26) - toLinear(level + 25)) / toLinear(level);
      expect(Math.abs(contrast(table[level + difference] ?? 0) - 2.4 * contrast(level + difference))).toBeLessThan(step);
    }));
  });

  it('finds the substrate beside the flake, whatever the flake and some dust are', () => {
    const [width, height] = [60, 40];
    const data = new Uint8ClampedArray(width * height * 4);
    const isFlake = (column: number): boolean => column >= 15;
    for (let i = 0; i < width * height; i += 1) data.set(isFlake(i % width) ? [20, 20, 20, 255] : i % 7 === 0 ? [255, 255, 255, 255] : [120, 110, 170, 255], i * 4);
    expect(substrateLevels({ width, height, data }, isFlake)).toEqual([120, 110, 170]);
    drawOut({ width, height, data }, [120, 110, 170], 2.4);
    expect([...data.slice(4, 8)]).toEqual([120, 110, 170, 255]);
  });
});

const pose = { centreUm: { xUm: 5000, yUm: -300 }, cameraToStageUm: [-0.3, 0.02, 0.02, 0.3] as const, widthPx: 640, heightPx: 480 };

describe('where a picture lies', () => {
  it('puts the flake in the middle of the view, whatever the camera’s turn, at the same scale for crop and live frame', () => {
    const flake = { xUm: 5012, yUm: -310 };
    const crop = { ...pose, centreUm: flake, widthPx: 200, heightPx: 180 };
    for (const frame of [pose, crop]) {
      const placed = place(frame, flake, 0.15, 500, 400);
      const [corner] = outlineInPixels(frame, [flake]);
      expect(placed.x0 + (corner?.colPx ?? 0) * placed.scale).toBeCloseTo(250, 6);
      expect(placed.y0 + (corner?.rowPx ?? 0) * placed.scale).toBeCloseTo(200, 6);
      // A camera pixel of this matrix is sqrt(0.3 * 0.3 + 0.02 * 0.02) um wide.
      expect(placed.scale).toBeCloseTo(Math.sqrt(0.0904) / 0.15, 9);
    }
  });

  it('shows a flake whole with some substrate, fills the view where it can, and never blows pixels up beyond five', () => {
    const view = { pixelUm: 0.5, viewWidth: 600, viewHeight: 400 };
    // By hand: 76 um with a rim of 12 um on both sides are 100 um over 400 px.
    expect(pictureScale({ ...view, flakeSpanUm: 76 })).toBeCloseTo(0.25, 9);
    // A stored picture of 138 x 100 um fills 600 x 400 px at 0.23 um a px.
    expect(pictureScale({ ...view, flakeSpanUm: 76, cropUm: { widthUm: 138, heightUm: 100 } })).toBeCloseTo(0.23, 9);
    expect(pictureScale({ ...view, pixelUm: 5, flakeSpanUm: 1 })).toBe(1);
    fc.assert(fc.property(fc.double({ min: 1, max: 500, noNaN: true }), fc.double({ min: 10, max: 800, noNaN: true }), (flakeSpanUm, widthUm) => {
      expect(pictureScale({ ...view, flakeSpanUm, cropUm: { widthUm, heightUm: widthUm } }) * 400).toBeGreaterThan(flakeSpanUm);
    }));
  });

  it('gives the map the same corners as the planner’s own way from pixel to stage', () => {
    const places = [[0, 0], [640, 0], [640, 480], [0, 480]] as const;
    frameCorners(pose.centreUm, pose.cameraToStageUm, 640, 480).forEach((corner, i) => {
      const expected = pixelToStage(pose, { colPx: places[i]?.[0] ?? NaN, rowPx: places[i]?.[1] ?? NaN });
      expect(corner.xUm).toBeCloseTo(expected.xUm, 9);
      expect(corner.yUm).toBeCloseTo(expected.yUm, 9);
    });
  });

  it('tells inside from outside, and lengths round an outline (by hand: a 3-4-5 triangle)', () => {
    const triangle = [{ xUm: 0, yUm: 0 }, { xUm: 4, yUm: 0 }, { xUm: 0, yUm: 3 }];
    expect(outlineLengthUm(triangle)).toBe(12);
    expect(boxOf([triangle])).toEqual({ centreUm: { xUm: 2, yUm: 1.5 }, spanUm: 4 });
    expect(boxOf([])).toBeUndefined();
    const outline = triangle.map(({ xUm, yUm }) => ({ colPx: xUm, rowPx: yUm }));
    expect([insideOutline(outline, 1, 1), insideOutline(outline, 3, 2), insideOutline(outline, -1, 1)]).toEqual([true, false, false]);
  });
});
