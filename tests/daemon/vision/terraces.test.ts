import { describe, expect, it } from 'vitest';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import type { FrameMeasurement, OpticalContext } from '../../../daemon/vision/types.ts';
import type { Detection, MeasuredTerrace, RejectReason } from '../../../planner/flakes/types.ts';
import { areaUm2 } from '../../../planner/geometry/polygon.ts';
import { areaPx, drawFrame, drawnPose, PIXEL_UM, square } from './drawFrame.ts';
import type { Scene, Shape } from './drawFrame.ts';

/** Protects: what lies on a terrace, touches it or surrounds it does not hide it, nor passes for it. Truth is what was drawn. */

const optics: OpticalContext = { transfer: 'linear', numericalAperture: 0.45, dark: [0, 0, 0], flare: [0, 0, 0] };

function measure(scene: Scene): FrameMeasurement {
  const frame = drawFrame(scene);
  return measureFrame({ frame, pose: drawnPose(frame), optics });
}

const accepted = (m: FrameMeasurement): readonly Detection[] => m.detections.filter((d) => d.reject === undefined);
const terraces = (m: FrameMeasurement): readonly MeasuredTerrace[] => accepted(m).flatMap((d) => d.terraces);
const rejected = (m: FrameMeasurement, reason: RejectReason): readonly Detection[] => m.detections.filter((d) => d.reject === reason);

/** Like one and two layers of graphene on 290 nm of oxide (published-values of the reference set: 0.09 and 0.175 in the green). */
const ONE = [0.09, 0.09, 0.005] as const;
const TWO = [0.175, 0.17, 0.01] as const;
const SHEET: Shape = { corners: square(90, 80, 80), contrast: ONE };

function disc(col: number, row: number, radius: number): Shape['corners'] {
  return Array.from({ length: 40 }, (_, i) => [col + radius * Math.cos((2 * Math.PI * i) / 40), row + radius * Math.sin((2 * Math.PI * i) / 40)] as const);
}

describe('a terrace', () => {
  it('with a bubble on it is measured beside the bubble, and says how much of it is spoiled', () => {
    const bubble: Shape = { corners: disc(115, 110, 12), contrast: [0.16, 0.2, 0.12], softPx: 5 };
    const [terrace, ...others] = terraces(measure({ shapes: [SHEET, bubble] })).filter((t) => t.areaUm2 > 100);
    expect(others).toEqual([]);
    ONE.forEach((c, i) => expect(Math.abs((terrace?.contrast[i] ?? 9) - c)).toBeLessThan(0.006));
    // What was left out of the mean, or cut out as a hole: half of the disc at least, and hardly more than the disc with its blur.
    const spoiled = (terrace?.blemishedShare ?? 0) * (terrace?.areaUm2 ?? 0) + (terrace?.holesUm ?? []).reduce((sum, hole) => sum + areaUm2(hole), 0);
    const disk = Math.PI * (12 * PIXEL_UM) ** 2;
    expect(spoiled / disk).toBeGreaterThan(0.5);
    expect(spoiled / disk).toBeLessThan(2);
  });

  it('without anything on it says of no blemish', () => {
    const [terrace] = terraces(measure({ shapes: [SHEET] }));
    expect(terrace?.blemishedShare ?? 0).toBeLessThan(0.01);
    expect(terrace?.holesUm).toBeUndefined();
  });

  it('that a dried film touches is still one; the film is none', () => {
    const film: Shape = { corners: disc(215, 120, 50), contrast: [0.2, 0.1, 0.25], softPx: 10 };
    const m = measure({ shapes: [film, SHEET] });
    const kept = terraces(m).filter((t) => t.areaUm2 > 0.7 * areaPx(SHEET.corners) * PIXEL_UM ** 2);
    expect(kept).toHaveLength(1);
    ONE.forEach((c, i) => expect(Math.abs((kept[0]?.contrast[i] ?? 9) - c)).toBeLessThan(0.01));
    expect(m.detections.some((d) => d.reject !== undefined)).toBe(true);
  });

  it('has the holes through which bare oxide shows, and not what lies on it', () => {
    const hole: Shape = { corners: square(105, 95, 14), contrast: [0, 0, 0] };
    const upper: Shape = { corners: square(135, 125, 20), contrast: TWO };
    const m = measure({ shapes: [{ corners: [...SHEET.corners, [90, 80], ...[...hole.corners, [105, 95] as const].reverse()], contrast: ONE }, upper] });
    const base = terraces(m).find((t) => Math.abs((t.contrast[0] ?? 0) - ONE[0]) < 0.02);
    expect(base?.holesUm).toHaveLength(1);
    expect(areaUm2(base?.holesUm?.[0] ?? []) / (areaPx(hole.corners) * PIXEL_UM ** 2)).toBeGreaterThan(0.8);
    expect(areaUm2(base?.holesUm?.[0] ?? []) / (areaPx(hole.corners) * PIXEL_UM ** 2)).toBeLessThan(1.2);
  });

  it('is measured against the oxide beside it, and a halo is told', () => {
    const glow = (x: number, y: number): number => 1 + 0.02 * Math.exp(-((x * 320 - 130) ** 2 + (y * 256 - 120) ** 2) / (2 * 70 ** 2));
    const [terrace] = terraces(measure({ shapes: [SHEET], light: glow }));
    ONE.forEach((c, i) => expect(Math.abs((terrace?.contrast[i] ?? 9) - c)).toBeLessThan(0.012));
    // Brighter beside it than the frame's own surface: R over R0 is above 1 there, a contrast below 0.
    expect(terrace?.halo).toBeLessThan(-0.002);
    const [even] = terraces(measure({ shapes: [SHEET] }));
    expect(Math.abs(even?.halo ?? 9)).toBeLessThan(0.002);
  });
});

describe('what lies beyond the chip', () => {
  const beyond = [0.8, 0.82, 0.9] as const;

  it('ends in a straight line along the frame\'s border, and is named', () => {
    const m = measure({ shapes: [SHEET, { corners: [[230, -5], [330, -5], [330, 261], [250, 261]], contrast: beyond }] });
    expect(rejected(m, 'chipEdge')).toHaveLength(1);
    expect(terraces(m).filter((t) => t.areaUm2 > 100)).toHaveLength(1);
  });

  it('is not seen in a round thing of the same darkness, nor in a film as dark in one colour only', () => {
    expect(rejected(measure({ shapes: [{ corners: disc(300, 128, 120), contrast: beyond }] }), 'chipEdge')).toEqual([]);
    expect(rejected(measure({ shapes: [{ corners: [[230, -5], [330, -5], [330, 261], [250, 261]], contrast: [0.8, 0.5, 0.1] }] }), 'chipEdge')).toEqual([]);
  });
});
