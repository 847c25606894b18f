import { describe, expect, it } from 'vitest';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import { addDarkPlaces, type StrayLightBound } from '../../../daemon/vision/strayLight.ts';
import type { FrameMeasurement } from '../../../daemon/vision/types.ts';
import { drawFrame, drawnPose, square, type Shape } from './drawFrame.ts';

/** Protects: stray light is bounded by the darkest place, never guessed. Truth is the share that was drawn over the scene. */

const NA = 0.45;
/** What dust sends back of what bare oxide does: soot next to nothing, other dust a tenth and more. */
const dust = (shares: readonly number[]): readonly Shape[] => shares.map((r, i): Shape => ({ corners: square(30 + 70 * i, 60 + 20 * i, 18), contrast: [1 - r, 1 - r, 1 - r] }));

/** A scene with a share f of the substrate's level over all of it: C is smaller by 1 - f (the definition, see contrastImage). */
function measured(flare: number, shares: readonly number[], flareKnown = 0): FrameMeasurement {
  const shapes = [...dust(shares), { corners: square(200, 190, 40), contrast: [0.09, 0.09, 0.01] } as const];
  const veiled = shapes.map((s): Shape => ({ ...s, contrast: [s.contrast[0] * (1 - flare), s.contrast[1] * (1 - flare), s.contrast[2] * (1 - flare)] }));
  const frame = drawFrame({ shapes: veiled, seed: Math.round(100 * flare) + 1 });
  const known = [flareKnown, flareKnown, flareKnown];
  return measureFrame({ frame, pose: drawnPose(frame), optics: { transfer: 'linear', numericalAperture: NA, dark: [0, 0, 0], flare: known } });
}

function boundOf(flare: number, shares: readonly number[], known = 0): StrayLightBound | undefined {
  return addDarkPlaces(undefined, measured(flare, shares, known).detections, drawnPose(drawFrame({})), NA, [known, known, known]);
}

describe('the bound on stray light', () => {
  it.each([0, 0.03, 0.06])('holds at %d with dust of a tenth, and is off by no more than the dust is bright', (flare) => {
    const bound = boundOf(flare, [0.1, 0.18, 0.3]);
    expect(bound?.places).toBe(3);
    for (const f of bound?.atMost ?? [NaN]) {
      expect(f).toBeGreaterThanOrEqual(flare);
      expect(f).toBeLessThan(flare + 0.1 + 0.015);
    }
  });

  it.each([0, 0.03, 0.06])('is tight at %d where something is black', (flare) => {
    for (const f of boundOf(flare, [0, 0.2])?.atMost ?? [NaN]) {
      expect(f).toBeGreaterThanOrEqual(flare);
      expect(f).toBeLessThan(flare + 0.012);
    }
  });

  it('is the same whether some of it was taken off before or not', () => {
    const [one, other] = [boundOf(0.06, [0.05]), boundOf(0.06, [0.05], 0.04)];
    one?.atMost.forEach((f, c) => expect(Math.abs(f - (other?.atMost[c] ?? 9))).toBeLessThan(0.003));
    expect(other?.places).toBe(1);
  });

  it('only ever falls, and says nothing where nothing is dark enough or large enough', () => {
    const pose = drawnPose(drawFrame({}));
    const first = addDarkPlaces(undefined, measured(0.03, [0.2]).detections, pose, NA, [0, 0, 0]);
    const second = addDarkPlaces(first, measured(0.03, [0.05]).detections, pose, NA, [0, 0, 0]);
    const third = addDarkPlaces(second, measured(0.03, [0.3]).detections, pose, NA, [0, 0, 0]);
    expect(second?.atMost[0]).toBeLessThan(first?.atMost[0] ?? 0);
    expect(third).toEqual({ atMost: second?.atMost, places: 3 });
    expect(boundOf(0.03, [])).toBeUndefined();
    expect(boundOf(0.03, [0.6])).toBeUndefined();
  });
});
