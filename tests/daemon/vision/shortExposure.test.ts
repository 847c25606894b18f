import { describe, expect, it } from 'vitest';
import { readDark } from '../../../daemon/vision/darkFrame.ts';
import { saturatedPixels } from '../../../daemon/vision/fullScale.ts';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import type { FrameMeasurement, OpticalContext } from '../../../daemon/vision/types.ts';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import type { MeasuredTerrace } from '../../../planner/flakes/types.ts';
import { drawFrame, drawnPose, square, type Shape } from './drawFrame.ts';
import { asCamera } from './encode.ts';

/** Protects: what is too bright for a frame is measured from a shorter one, as it was drawn; frames that do not belong together are not mixed. */

const optics: OpticalContext = { transfer: 'linear', numericalAperture: 0.45, dark: [0, 0, 0], flare: [0, 0, 0] };
/** Bare oxide takes 0.3 to 0.5 of full scale: the first terrace saturates in all channels, the second in the blue only, the third in none. */
const shapes: readonly Shape[] = [
  { corners: square(40, 60, 60), contrast: [-3.2, -2.6, -1.8] },
  { corners: square(40, 60, 30), contrast: [-2.5, -2.1, -1.4] },
  { corners: square(180, 90, 50), contrast: [-0.8, -1, -1.3] },
  { corners: square(260, 190, 36), contrast: [0.09, 0.09, 0.01] },
];
const substrate = [0.3, 0.35, 0.5] as const;
const DARK = 0.02;

/** A frame of the scene at a share of the exposure; electrons are fewer by that, and so is the noise larger by its square root. */
function exposed(share: number, { lamp = 1 }: { readonly lamp?: number } = {}): CameraFrame {
  const [red, green, blue] = substrate.map((level) => level * share * lamp) as [number, number, number];
  const drawn = drawFrame({ seed: Math.round(100 * share), shapes, substrate: [red, green, blue], noise: 0.01 / Math.sqrt(share) });
  const lifted = { ...drawn, exposureMs: 8 * share, data: Uint16Array.from(drawn.data, (v) => Math.min(65535, v + Math.round(DARK * 65535))) };
  return { ...asCamera(lifted, { pixelFormat: 'rgb16', bits: 12, transfer: 'linear' }), exposureMs: 8 * share };
}

const long = exposed(1);
const dark = readDark([{ ...long, data: new Uint16Array(long.data.length).fill(Math.round(DARK * 4095)) }], 'linear');
const measure = (short?: CameraFrame): FrameMeasurement =>
  measureFrame({ frame: long, ...(short ? { short } : {}), pose: drawnPose(long), optics: { ...optics, dark: dark.perSample } });
const terraces = (m: FrameMeasurement): readonly MeasuredTerrace[] => m.detections.filter((d) => d.reject === undefined).flatMap((d) => d.terraces);
const nearest = (m: FrameMeasurement, { contrast }: Shape): number =>
  Math.min(...terraces(m).map((t) => Math.max(...t.contrast.map((c, i) => Math.abs(c - (contrast[i] ?? 9)) / Math.abs(1 - (contrast[i] ?? 0))))));

describe('a second, shorter exposure', () => {
  it('is needed: without it bright terraces are one, too bright, and told so', () => {
    const m = measure();
    expect(terraces(m).filter((t) => t.saturatedShare > 0.9)).toHaveLength(2);
    for (const shape of shapes.slice(0, 3)) expect(nearest(m, shape)).toBeGreaterThan(0.05);
  });

  it.each([[0.25, 1], [0.25, 0.97], [0.4, 1.04]])('of %d of the time, lamp at %d, gives every terrace the contrast that was drawn', (share, lamp) => {
    const m = measure(exposed(share, { lamp }));
    expect(terraces(m)).toHaveLength(shapes.length);
    for (const shape of shapes) expect(nearest(m, shape)).toBeLessThan(0.006);
    expect(terraces(m).map((t) => t.saturatedShare)).toEqual([0, 0, 0, 0]);
    for (const t of terraces(m)) expect(t.unevenness).toBeLessThan(1.4);
  });

  it('that is too bright itself leaves what it cannot measure too bright', () => {
    const m = measure(exposed(0.85));
    expect(terraces(m).some((t) => t.saturatedShare > 0.9)).toBe(true);
  });

  it('changes nothing where nothing is too bright', () => {
    const [one, other] = [measure(exposed(0.25)), measure()];
    const thin = (m: FrameMeasurement) => terraces(m).filter((t) => Math.abs(t.contrast[0] ?? 9) < 0.2);
    expect(thin(one)).toEqual(thin(other));
    expect(one.substrate).toEqual(other.substrate);
  });

  it('that was not taken as it says, or is no frame of this camera, is left out', () => {
    const wrong: readonly CameraFrame[] = [
      { ...exposed(0.25), exposureMs: 4 },
      exposed(0.25, { lamp: 0.6 }),
      { ...exposed(0.25), data: new Uint16Array(long.data.length) },
      asCamera(drawFrame({ shapes, substrate: [0.075, 0.0875, 0.125] }), { pixelFormat: 'rgb8', bits: 8, transfer: 'linear' }),
      drawFrame({ widthPx: 64 }),
    ];
    for (const short of wrong) expect(measure(short)).toEqual(measure());
  });
});

describe('saturated pixels of a frame', () => {
  it('are counted once each, whichever of their samples is full', () => {
    const data = new Uint8Array(12).fill(200);
    const frame: CameraFrame = { widthPx: 4, heightPx: 1, pixelFormat: 'rgb8', bits: 8, data, exposureMs: 1, takenAtMs: 0 };
    expect(saturatedPixels(frame)).toBe(0);
    data.set([255, 255, 255], 0);
    data[7] = 255;
    expect(saturatedPixels(frame)).toBe(2);
    expect(saturatedPixels({ ...frame, pixelFormat: 'mono8', widthPx: 12 })).toBe(4);
  });
});
