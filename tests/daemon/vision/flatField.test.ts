import { describe, expect, it } from 'vitest';
import { CELL_PX } from '../../../daemon/vision/cells.ts';
import { addToFlatField, correctBlank, emptyFlatField, flatFieldFromBlank, flatFieldOf } from '../../../daemon/vision/flatField.ts';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import type { FlatField, FrameMeasurement, OpticalContext } from '../../../daemon/vision/types.ts';
import { drawFrame, drawnPose, square } from './drawFrame.ts';
import type { Scene } from './drawFrame.ts';

const optics: OpticalContext = { transfer: 'linear', numericalAperture: 0.45, dark: [0, 0, 0], flare: [0, 0, 0] };

/** A falling-off field with one soft shadow of dust on the sensor. */
const light = (x: number, y: number): number =>
  (1 - 0.3 * ((x - 0.45) ** 2 + (y - 0.55) ** 2)) * (1 - 0.04 * Math.exp(-((x - 0.7) ** 2 + (y - 0.3) ** 2) / (2 * 0.06 ** 2)));

function measured(scene: Scene, flat?: FlatField): FrameMeasurement {
  const frame = drawFrame({ light, ...scene });
  return measureFrame({ frame, pose: drawnPose(frame), optics: { ...optics, ...(flat ? { flat } : {}) } });
}

const flakeAt = (k: number): Scene => ({ seed: k + 1, substrate: [0.3 + 0.01 * k, 0.35 + 0.01 * k, 0.5], shapes: [{ corners: square(30 + 45 * k, 40 + 25 * k, 40), contrast: [0.3, 0.2, -0.1] }] });

function field(frames: number): FlatField {
  let state = emptyFlatField;
  for (let k = 0; k < frames; k++) state = addToFlatField(state, measured(flakeAt(k)).coarse);
  const flat = flatFieldOf(state);
  if (!flat) throw new Error('no flat field');
  return flat;
}

/** Largest relative difference from the light that was drawn, both brought to the same mean. */
function worst(flat: FlatField, drawn = light): number {
  const truth = Float64Array.from({ length: flat.columns * flat.rows }, (_, cell) => drawn(((cell % flat.columns) + 0.5) * (CELL_PX / 320), (Math.floor(cell / flat.columns) + 0.5) * (CELL_PX / 256)));
  const mean = truth.reduce((sum, v) => sum + v, 0) / truth.length;
  return Math.max(...truth.map((t, cell) => Math.abs((flat.values[cell * flat.channels] as number) / (t / mean) - 1)));
}

describe('the flat field', () => {
  it('comes out of frames with flakes and changing light, dust shadow included', () => {
    expect(worst(field(5))).toBeLessThan(0.006);
  });

  it('comes out of one blank frame', () => {
    expect(worst(flatFieldFromBlank(measured({}).coarse))).toBeLessThan(0.006);
  });

  it.each([['left the blank', true], ['came after it', false]] as const)('of a blank is corrected where frames agree that dust has %s, and nowhere else', (_, inBlank) => {
    const even = (x: number, y: number): number => 1 - 0.3 * ((x - 0.45) ** 2 + (y - 0.55) ** 2);
    const taken = (scene: Scene, dusty: boolean): FrameMeasurement => measured({ light: dusty ? light : even, ...scene });
    const blank = flatFieldFromBlank(taken({ seed: 40 }, inBlank).coarse);
    const frames = (count: number): FlatField | undefined => {
      let state = emptyFlatField;
      for (let k = 0; k < count; k++) state = addToFlatField(state, taken(flakeAt(k % 5), !inBlank).coarse);
      return flatFieldOf(state);
    };
    const [own, four] = [frames(6), frames(4)];
    if (!own || !four) throw new Error('no flat field');
    const now = inBlank ? even : light;
    expect(worst(blank, now)).toBeGreaterThan(0.03);
    expect(worst(correctBlank(blank, own), now)).toBeLessThan(0.01);
    // Away from the dust the blank's own numbers stand, and four frames do not outvote it.
    expect(correctBlank(blank, own).values[0]).toBe(blank.values[0]);
    expect(correctBlank(blank, four)).toBe(blank);
  });

  it('takes the shadow of dust out of a frame', () => {
    const scene: Scene = { seed: 99, shapes: [{ corners: square(204, 57, 40), contrast: [0.09, 0.09, 0.005] }] };
    const terrace = measured(scene, field(5)).detections.find((d) => d.reject === undefined)?.terraces[0];
    expect(terrace?.contrast[0]).toBeCloseTo(0.09, 2);
    expect(terrace?.unevenness).toBeLessThan(1.2);
  });

  it('waits for three frames, because two cannot tell a flake from a shadow', () => {
    const one = addToFlatField(emptyFlatField, measured(flakeAt(0)).coarse);
    expect(flatFieldOf(addToFlatField(one, measured(flakeAt(1)).coarse))).toBeUndefined();
  });

  it('is the same for the same frames in the same order, and bounded in what it remembers', () => {
    expect(field(4)).toEqual(field(4));
    const { coarse } = measured(flakeAt(0));
    let state = emptyFlatField;
    for (let k = 0; k < 100; k++) state = addToFlatField(state, coarse);
    expect(state.grids.length).toBeLessThan(40);
    expect(state.frames).toBe(100);
  });

  it('learns nothing from a frame that could not be used', () => {
    const black = measured({ substrate: [0, 0, 0] });
    expect(addToFlatField(emptyFlatField, black.coarse)).toBe(emptyFlatField);
  });
});
