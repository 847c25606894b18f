import { beforeAll, describe, expect, it } from 'vitest';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import type { FrameMeasurement, OpticalContext } from '../../../daemon/vision/types.ts';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import type { MeasuredTerrace } from '../../../planner/flakes/types.ts';
import { areaPx, drawFrame, drawnPose, PIXEL_UM, type Shape } from './drawFrame.ts';
import { asCamera, type Camera } from './encode.ts';

/** Protects: a chip measures the same whichever camera looks at it. Truth is what was drawn: contrast, area and place of each shape. */

const size = { widthPx: 640, heightPx: 512 };
const shapes: readonly Shape[] = [
  { corners: [[100, 100], [180, 90], [200, 170], [120, 190]], contrast: [0.09, 0.09, 0.02] },
  { corners: [[380, 120], [470, 120], [470, 200], [380, 200]], contrast: [0.175, 0.17, 0.03] },
  { corners: [[240, 320], [340, 300], [350, 400], [250, 410]], contrast: [-0.5, -0.2, 0.3] },
];
const cameras: readonly Camera[] = [
  { pixelFormat: 'rgb8', bits: 8, transfer: 'srgb' },
  { pixelFormat: 'rgb8', bits: 8, transfer: 'linear' },
  { pixelFormat: 'rgb16', bits: 16, transfer: 'linear' },
  { pixelFormat: 'rgb16', bits: 10, transfer: 'srgb' },
  ...(['RG', 'GR', 'GB', 'BG'] as const).map((p) => ({ pixelFormat: `bayer${p}8`, bits: 8, transfer: 'linear' }) as const),
  { pixelFormat: 'bayerRG16', bits: 12, transfer: 'linear' },
  { pixelFormat: 'bayerGB16', bits: 16, transfer: 'linear' },
  { pixelFormat: 'bayerBG8', bits: 8, transfer: 'srgb' },
  { pixelFormat: 'mono8', bits: 8, transfer: 'linear' },
  { pixelFormat: 'mono16', bits: 12, transfer: 'linear' },
  { pixelFormat: 'mono16', bits: 16, transfer: 'srgb' },
];

let drawn: CameraFrame;
beforeAll(() => {
  drawn = drawFrame({ ...size, shapes, blurPx: 0.7, noise: 0.02, light: (x, y) => 0.95 + 0.1 * x - 0.05 * y });
});

function measured(frame: CameraFrame, transfer: OpticalContext['transfer']): FrameMeasurement {
  const none = frame.pixelFormat.startsWith('mono') ? [0] : [0, 0, 0];
  return measureFrame({ frame, pose: drawnPose(frame), optics: { transfer, numericalAperture: 0.45, dark: none, flare: none } });
}

/** The mean of a shape's corners in um of the drawn pose; for these shapes as good as its centroid to a few pixels. */
function terraceAt(m: FrameMeasurement, { corners }: Shape): MeasuredTerrace | undefined {
  const mid = (k: 0 | 1) => corners.reduce((sum, c) => sum + c[k], 0) / corners.length;
  const [xUm, yUm] = [(mid(0) - size.widthPx / 2) * PIXEL_UM, (size.heightPx / 2 - mid(1)) * PIXEL_UM];
  return m.detections.filter((d) => d.reject === undefined).flatMap((d) => d.terraces).find((t) => Math.hypot(t.inscribedCentreUm.xUm - xUm, t.inscribedCentreUm.yUm - yUm) < 6);
}

describe('one scene through many cameras', () => {
  it.each(cameras)('$pixelFormat of $bits bits, $transfer: contrast, area and edges as drawn', (camera) => {
    const m = measured(asCamera(drawn, camera), camera.transfer);
    expect(m.fault).toBeUndefined();
    expect(m.detections.filter((d) => d.reject === undefined)).toHaveLength(shapes.length);
    const oneCellUm = (camera.pixelFormat.startsWith('bayer') ? 2 : 1) * PIXEL_UM;
    for (const shape of shapes) {
      const terrace = terraceAt(m, shape);
      const truth = camera.pixelFormat.startsWith('mono') ? [shape.contrast[1]] : shape.contrast;
      expect(terrace?.contrast).toHaveLength(truth.length);
      truth.forEach((c, i) => expect(Math.abs((terrace?.contrast[i] ?? 9) - c)).toBeLessThan(4 * (terrace?.contrastError[i] ?? 0)));
      expect(Math.abs((terrace?.areaUm2 ?? 0) / (areaPx(shape.corners) * PIXEL_UM ** 2) - 1)).toBeLessThan(0.03);
      const cols = (terrace?.outlineUm ?? []).map((p) => p.xUm / PIXEL_UM + size.widthPx / 2);
      expect(Math.abs(Math.min(...cols) - Math.min(...shape.corners.map((c) => c[0]))) * PIXEL_UM).toBeLessThan(oneCellUm);
    }
  });

  it('an odd last column and row of a mosaic are left out, and nothing moves', () => {
    const cut = { widthPx: 639, heightPx: 511 };
    const full = asCamera(drawn, { pixelFormat: 'bayerRG16', bits: 16, transfer: 'linear' });
    const data = new Uint16Array(cut.widthPx * cut.heightPx).map((_, i) => full.data[(i % 639) + Math.floor(i / 639) * 640] ?? 0);
    const frame = { ...full, ...cut, data };
    // The middle of the smaller frame lies half a pixel further left and up on the chip.
    const pose = { ...drawnPose(frame), centreUm: { xUm: -PIXEL_UM / 2, yUm: PIXEL_UM / 2 } };
    const m = measureFrame({ frame, pose, optics: { transfer: 'linear', numericalAperture: 0.45, dark: [0, 0, 0], flare: [0, 0, 0] } });
    const whole = measured(full, 'linear');
    for (const shape of shapes) {
      const [one, other] = [terraceAt(m, shape)?.inscribedCentreUm, terraceAt(whole, shape)?.inscribedCentreUm];
      expect(Math.hypot((one?.xUm ?? 9) - (other?.xUm ?? 0), (one?.yUm ?? 9) - (other?.yUm ?? 0))).toBeLessThan(PIXEL_UM / 4);
    }
  });
});

describe('saturation', () => {
  const bright: Shape = { corners: [[100, 100], [200, 100], [200, 200], [100, 200]], contrast: [-3, -3, -3] };
  const scene = { ...size, shapes: [bright], noise: 0.01, substrate: [0.3, 0.3, 0.3] as const };

  it.each([
    ['12 bits told', 12, (code: number) => code],
    ['12 bits in the low bits of 16, not told', 16, (code: number) => code >> 4],
    ['12 bits in the high bits of 16, not told', 16, (code: number) => code & 0xfff0],
    ['a camera that ends below its full scale', 16, (code: number) => Math.min(code, 60_000)],
  ] as const)('is seen with %s', (_, bits, stored) => {
    const raw = drawFrame(scene);
    const data = raw.data.map((v) => (bits === 12 ? v >> 4 : stored(v)));
    const m = measured({ ...raw, bits, data }, 'linear');
    const [terrace] = m.detections.flatMap((d) => d.terraces);
    expect(terrace?.saturatedShare).toBeGreaterThan(0.9);
  });

  it('of specks on a terrace is left out of its contrast', () => {
    const flake: Shape = { corners: [[100, 100], [200, 100], [200, 200], [100, 200]], contrast: [-0.4, -0.3, 0.1] };
    const specks = Array.from({ length: 36 }, (_, n): Shape => {
      const [col, row] = [110 + 14 * (n % 6), 112 + 14 * Math.floor(n / 6)];
      return { corners: [[col, row], [col + 3, row], [col + 3, row + 2], [col, row + 2]], contrast: [-9, -9, -9] };
    });
    const m = measured(drawFrame({ ...size, shapes: [flake, ...specks], noise: 0.01 }), 'linear');
    const terrace = m.detections.flatMap((d) => d.terraces).find((t) => t.areaUm2 > 1500);
    flake.contrast.forEach((c, i) => expect(Math.abs((terrace?.contrast[i] ?? 9) - c)).toBeLessThan(0.01));
  });

  it('is not seen where a flake is only the brightest thing in view', () => {
    const raw = drawFrame({ ...scene, shapes: [{ ...bright, contrast: [-1, -1, -1] }] });
    expect(measured(raw, 'linear').detections.flatMap((d) => d.terraces).map((t) => t.saturatedShare)).toEqual([0]);
  });
});
