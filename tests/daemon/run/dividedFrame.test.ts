import { describe, expect, it } from 'vitest';
import { putTogether } from '../../../daemon/run/dividedFrame.ts';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import type { FramePose } from '../../../planner/units/index.ts';

/** Protects: a divided frame takes each place from the exposure in which it is in focus, and is whole. */

const pose: FramePose = { centreUm: { xUm: 0, yUm: 0 }, cameraToStageUm: [1, 0, 0, -1], widthPx: 100, heightPx: 70 };
const filled = (value: number): CameraFrame => ({ widthPx: 100, heightPx: 70, pixelFormat: 'rgb8', bits: 8, data: new Uint8Array(100 * 70 * 3).fill(value), exposureMs: 8, takenAtMs: value });
const slices = [
  { zUm: 1, fromUm: 0, toUm: 2 },
  { zUm: 3, fromUm: 2, toUm: 4 },
  { zUm: 5, fromUm: 4, toUm: 6 },
];

describe('a frame put together', () => {
  it('is of the exposure whose heights the surface has there: strips across a tilt along x', () => {
    // 0 to 6 um from the left edge to the right one.
    const frame = putTogether([filled(10), filled(20), filled(30)], slices, pose, ({ xUm }) => (6 * (xUm + 50)) / 100);
    const at = (x: number, y: number): number | undefined => frame?.data[(y * 100 + x) * 3];
    for (const y of [0, 33, 69]) {
      expect([at(5, y), at(24, y), at(42, y), at(60, y), at(75, y), at(99, y)]).toEqual([10, 10, 20, 20, 30, 30]);
    }
    expect(frame).toMatchObject({ widthPx: 100, heightPx: 70, exposureMs: 8 });
    expect(frame?.data).toHaveLength(100 * 70 * 3);
  });

  it('leaves the exposures as they were', () => {
    const frames = [filled(10), filled(20), filled(30)];
    putTogether(frames, slices, pose, () => 3);
    expect(frames.map(({ data }) => data[1000])).toEqual([10, 20, 30]);
  });

  it('is none of frames that differ in size, or of none', () => {
    expect(putTogether([], slices, pose, () => 1)).toBeUndefined();
    expect(putTogether([filled(1), { ...filled(2), data: new Uint8Array(3) }], slices, pose, () => 1)).toBeUndefined();
  });
});
