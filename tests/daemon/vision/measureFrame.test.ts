import { describe, expect, it } from 'vitest';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import type { Detection, MeasuredTerrace } from '../../../planner/flakes/types.ts';
import { VisionError } from '../../../daemon/vision/errors.ts';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import type { FrameMeasurement, OpticalContext } from '../../../daemon/vision/types.ts';
import { areaPx, drawFrame, drawnPose, PIXEL_UM, square } from './drawFrame.ts';
import type { Scene, Shape } from './drawFrame.ts';

const optics: OpticalContext = { transfer: 'linear', numericalAperture: 0.45, dark: [0, 0, 0], flare: [0, 0, 0] };

function measure(scene: Scene, other: Partial<OpticalContext> = {}): FrameMeasurement {
  const frame = drawFrame(scene);
  return measureFrame({ frame, pose: drawnPose(frame), optics: { ...optics, ...other } });
}

const accepted = (m: FrameMeasurement): readonly Detection[] => m.detections.filter((d) => d.reject === undefined);

function near(m: FrameMeasurement, col: number, row: number): readonly MeasuredTerrace[] {
  const [xUm, yUm] = [(col - 160) * PIXEL_UM, -(row - 128) * PIXEL_UM];
  return accepted(m).flatMap((d) => d.terraces).filter((t) => Math.hypot(t.inscribedCentreUm.xUm - xUm, t.inscribedCentreUm.yUm - yUm) < 6);
}

const tilted = (x: number, y: number): number => 0.9 + 0.2 * x - 0.1 * y;
/** Contrasts like one, two and forty layers of graphene on 290 nm (published-values of the reference set: 0.09 and 0.175; -0.33 in the green). */
const ONE = [0.09, 0.09, 0.005] as const;
const TWO = [0.175, 0.17, 0.01] as const;
const THICK = [-1.2, -0.33, 0.3] as const;

describe('measureFrame on drawn frames', () => {
  const pentagon: Shape['corners'] = [[60, 60], [110, 55], [120, 95], [85, 125], [55, 100]];

  it('finds one terrace under tilted light, its contrast within its error and its area within 3 %', () => {
    const m = measure({ shapes: [{ corners: pentagon, contrast: ONE }], light: tilted });
    expect(m.fault).toBeUndefined();
    expect(accepted(m)).toHaveLength(1);
    const [terrace] = accepted(m)[0]?.terraces ?? [];
    expect(terrace).toBeDefined();
    ONE.forEach((c, i) => expect(Math.abs((terrace?.contrast[i] ?? 9) - c)).toBeLessThan(4 * (terrace?.contrastError[i] ?? 0)));
    const area = areaPx(pentagon) * PIXEL_UM ** 2;
    expect(Math.abs((terrace?.areaUm2 ?? 0) / area - 1)).toBeLessThan(0.03);
    expect(terrace?.edgeWidthRatio).toBeLessThan(1.5);
    expect(terrace?.unevenness).toBeLessThan(1.2);
  });

  it('puts the outline where the corners are, to a third of a pixel along straight edges', () => {
    const m = measure({ shapes: [{ corners: square(100, 90, 40), contrast: TWO }], noise: 0.006 });
    const outline = accepted(m)[0]?.outlineUm ?? [];
    const cols = outline.map((p) => p.xUm / PIXEL_UM + 160);
    const rows = outline.map((p) => 128 - p.yUm / PIXEL_UM);
    expect(Math.min(...cols)).toBeGreaterThan(99.5);
    expect(Math.min(...cols)).toBeLessThan(100.4);
    expect(Math.max(...rows)).toBeGreaterThan(129.6);
    expect(Math.max(...rows)).toBeLessThan(130.5);
  });

  it('divides a flake into its terraces', () => {
    const m = measure({ shapes: [{ corners: square(100, 90, 50), contrast: ONE }, { corners: [[100, 90], [125, 90], [125, 140], [100, 140]], contrast: TWO }] });
    const reds = accepted(m).flatMap((d) => d.terraces.map((t) => t.contrast[0] ?? 0)).sort((a, b) => a - b);
    expect(reds).toHaveLength(2);
    expect(reds[0]).toBeCloseTo(0.09, 2);
    expect(reds[1]).toBeCloseTo(0.175, 2);
  });

  it('makes no thin terrace of the blurred rim of a thick flake', () => {
    for (const blurPx of [0.6, 1.2, 1.8]) {
      const m = measure({ shapes: [{ corners: pentagon, contrast: THICK }], blurPx });
      const thin = accepted(m).flatMap((d) => d.terraces).filter((t) => Math.abs((t.contrast[0] ?? 0) - THICK[0]) > 0.15);
      expect(thin).toEqual([]);
    }
  });

  it('rejects a dried film for its soft edge, dust for its darkness and a scratch for its shape', () => {
    const m = measure({
      shapes: [
        { corners: square(40, 40, 60), contrast: [-0.05, -0.08, -0.15], softPx: 7 },
        { corners: square(220, 60, 14), contrast: [0.97, 0.97, 0.97] },
        { corners: [[150, 200], [260, 203], [260, 206], [150, 203]], contrast: [0.4, 0.4, 0.4] },
      ],
    });
    expect(accepted(m)).toEqual([]);
    expect(m.detections.map((d) => d.reject)).toEqual(expect.arrayContaining(['softEdge', 'dark']));
    expect(m.detections.length).toBeGreaterThanOrEqual(2);
  });

  it('finds the substrate where thick flakes cover most of the frame, when it knows its level', () => {
    const most: Shape = { corners: [[0, 0], [320, 0], [320, 200], [0, 200]], contrast: THICK };
    const shapes = [most, { corners: square(140, 215, 25), contrast: ONE }];
    const m = measure({ shapes }, { substrate: [0.3, 0.35, 0.5] });
    expect(m.substrate[0]).toBeCloseTo(0.3, 2);
    expect(near(m, 152, 227)[0]?.contrast[0]).toBeCloseTo(0.09, 2);
  });

  it('takes stray light off: contrast is that of the chip without it', () => {
    const flare = 0.04;
    const shapes: Shape[] = [{ corners: pentagon, contrast: TWO.map((c) => c * (1 - flare)) as unknown as Shape['contrast'] }];
    const terrace = accepted(measure({ shapes }, { flare: [flare, flare, flare] }))[0]?.terraces[0];
    expect(terrace?.contrast[0]).toBeCloseTo(TWO[0], 2);
    const left = accepted(measure({ shapes }))[0]?.terraces[0];
    expect((left?.contrast[0] ?? 0) / (terrace?.contrast[0] ?? 1)).toBeCloseTo(1 - flare, 3);
  });

  it('reads sRGB frames as linear light', () => {
    // IEC 61966-2-1: the encoding curve, written down here independently of the decoder.
    const encode = (v: number): number => (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055);
    const m = measure({ shapes: [{ corners: pentagon, contrast: TWO }], encode }, { transfer: 'srgb' });
    expect(accepted(m)[0]?.terraces[0]?.contrast[0]).toBeCloseTo(TWO[0], 2);
  });

  it('measures the noise that was drawn', () => {
    const m = measure({ noise: 0.02 });
    for (const n of m.noise) expect(Math.abs(n / 0.02 - 1)).toBeLessThan(0.06);
    expect(m.substrateShare).toBeGreaterThan(0.95);
    expect(m.detections).toEqual([]);
  });

  it('gives the same answer for the same frame', () => {
    const scene: Scene = { shapes: [{ corners: pentagon, contrast: ONE }, { corners: square(200, 150, 30), contrast: THICK }], light: tilted };
    expect(measure(scene)).toEqual(measure(scene));
  });
});

describe('frames that cannot be used', () => {
  const shapes: Shape[] = [square(60, 60, 40), square(150, 100, 30), square(240, 40, 50)].map((corners) => ({ corners, contrast: THICK }));

  it.each([
    ['black', { substrate: [0.0005, 0.0005, 0.0005] }],
    ['saturated', { substrate: [1.6, 1.6, 1.6] }],
    ['outOfFocus', { shapes, blurPx: 6 }],
    ['noSubstrate', { light: (x: number, y: number) => 0.5 + 0.4 * Math.sin(90 * x) * Math.sin(80 * y) }],
  ] as const)('names the fault %s and shows no flake', (fault, scene) => {
    const m = measure(scene);
    expect(m.fault).toBe(fault);
    expect(m.detections).toEqual([]);
  });

  it('names a frame of another size', () => {
    const frame = drawFrame({});
    const m = measureFrame({ frame, pose: { ...drawnPose(frame), widthPx: 640 }, optics });
    expect(m.fault).toBe('wrongSize');
  });

  it('lets a sharp frame pass that a blurred one does not', () => {
    expect(measure({ shapes, blurPx: 0.8 }).fault).toBeUndefined();
  });

  it('refuses what is no frame with a code', () => {
    const frame = drawFrame({});
    const torn: CameraFrame = { ...frame, data: frame.data.subarray(0, 99) };
    const codeOf = (run: () => unknown): string => {
      try {
        run();
      } catch (error) {
        return error instanceof VisionError ? error.code : 'other';
      }
      return 'none';
    };
    expect(codeOf(() => measureFrame({ frame: torn, pose: drawnPose(frame), optics }))).toBe('wrongLength');
    expect(codeOf(() => measureFrame({ frame, pose: drawnPose(frame), optics: { ...optics, dark: [0] } }))).toBe('wrongDark');
    const flat = { columns: 2, rows: 2, channels: 3, values: new Float32Array(12).fill(1), frames: 1 };
    expect(codeOf(() => measureFrame({ frame, pose: drawnPose(frame), optics: { ...optics, flat } }))).toBe('wrongFlat');
  });
});

describe('other pixel formats', () => {
  const corners = square(100, 80, 40);

  it('measures mono frames in one channel', () => {
    const rgb = drawFrame({ shapes: [{ corners, contrast: ONE }] });
    const data = new Uint16Array(rgb.widthPx * rgb.heightPx).map((_, i) => rgb.data[3 * i + 1] as number);
    const frame: CameraFrame = { ...rgb, pixelFormat: 'mono16', data };
    const m = measureFrame({ frame, pose: drawnPose(frame), optics: { ...optics, dark: [0], flare: [0] } });
    expect(accepted(m)[0]?.terraces[0]?.contrast).toHaveLength(1);
    expect(accepted(m)[0]?.terraces[0]?.contrast[0]).toBeCloseTo(0.09, 2);
  });

  it('measures the cells of a colour-filter mosaic, at the right place and size', () => {
    const rgb = drawFrame({ widthPx: 640, heightPx: 512, shapes: [{ corners: square(200, 160, 80), contrast: TWO }] });
    const channel = (col: number, row: number): number => (row % 2 === 0 ? (col % 2 === 0 ? 0 : 1) : col % 2 === 0 ? 1 : 2);
    const data = new Uint16Array(640 * 512).map((_, i) => rgb.data[3 * i + channel(i % 640, Math.floor(i / 640))] as number);
    const frame: CameraFrame = { ...rgb, pixelFormat: 'bayerRG16', data };
    const m = measureFrame({ frame, pose: drawnPose(frame), optics });
    const [terrace] = accepted(m)[0]?.terraces ?? [];
    TWO.forEach((c, i) => expect(terrace?.contrast[i]).toBeCloseTo(c, 2));
    expect(Math.abs((terrace?.areaUm2 ?? 0) / (80 * 80 * PIXEL_UM ** 2) - 1)).toBeLessThan(0.03);
    expect(terrace?.inscribedCentreUm.xUm).toBeCloseTo((240 - 320) * PIXEL_UM, -0.5);
  });
});
