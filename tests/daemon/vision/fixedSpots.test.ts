import { describe, expect, it } from 'vitest';
import { addSightings, noFixedSpots, rejectFixed } from '../../../daemon/vision/fixedSpots.ts';
import type { Detection } from '../../../planner/flakes/types.ts';
import { pixelToStage, type FramePose } from '../../../planner/units/index.ts';

/** Protects: dust on the sensor is told from flakes by staying where it is in the frame while the stage moves. A law of our own. */

const pose = (xUm: number, yUm: number): FramePose => ({ centreUm: { xUm, yUm }, cameraToStageUm: [0.7, 0.01, 0.01, -0.7], widthPx: 400, heightPx: 300 });

/** A square of 10 px with its middle at this place of the frame. */
function seenAt(at: FramePose, colPx: number, rowPx: number): Detection {
  const corners = [[-5, -5], [5, -5], [5, 5], [-5, 5]].map(([dc = 0, dr = 0]) => pixelToStage(at, { colPx: colPx + dc, rowPx: rowPx + dr }));
  return { terraces: [], outlineUm: corners, areaUm2: 49, touchesFrameEdge: false };
}

describe('fixed spots', () => {
  const places = [pose(1000, 2000), pose(3000, 2500), pose(5000, 900)];

  it('marks what shows at one place of three frames, give or take the noise of its outline, and nothing else', () => {
    let spots = noFixedSpots;
    for (const [n, at] of places.entries()) spots = addSightings(spots, [seenAt(at, 120 + n, 80 - n), seenAt(at, 50 + 90 * n, 200)], at);
    const next = pose(7000, 4000);
    const judged = rejectFixed(spots, [seenAt(next, 122, 78), seenAt(next, 50, 200), seenAt(next, 300, 80)], next);
    expect(judged.map((d) => d.reject)).toEqual(['sensorDust', undefined, undefined]);
  });

  it('takes two frames for chance', () => {
    let spots = noFixedSpots;
    for (const at of places.slice(0, 2)) spots = addSightings(spots, [seenAt(at, 120, 80)], at);
    const next = pose(7000, 4000);
    expect(rejectFixed(spots, [seenAt(next, 120, 80)], next)[0]?.reject).toBeUndefined();
  });

  it('never marks a flake that moves through the frame with the stage', () => {
    let spots = noFixedSpots;
    const flakeOnStage = { xUm: 1500, yUm: 2000 };
    const views = [0, 30, 60, 90].map((shift) => pose(1400 + shift, 2000 - shift));
    for (const at of views) spots = addSightings(spots, [{ ...seenAt(at, 0, 0), outlineUm: [0, 1, 2, 3].map((n) => ({ xUm: flakeOnStage.xUm + (n % 2) * 8, yUm: flakeOnStage.yUm + (n >> 1) * 8 })) }], at);
    const last = views.at(-1) ?? pose(0, 0);
    const again = { ...seenAt(last, 0, 0), outlineUm: [{ xUm: 1500, yUm: 2000 }, { xUm: 1508, yUm: 2000 }, { xUm: 1504, yUm: 2008 }] };
    expect(rejectFixed(spots, [again], last)[0]?.reject).toBeUndefined();
  });
});
