import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { toChip, toStage } from '../../../planner/frames/chipFrame.ts';
import type { ChipFrame } from '../../../planner/frames/chipFrame.ts';
import { chipEdges } from '../../../planner/frames/chipEdges.ts';
import { framesFromCorner, stageCorner } from '../../../planner/frames/cornerFrame.ts';
import { cameraToStage } from '../../../planner/plan/objective.ts';
import { distanceUm, pixelToStage, type ChipPoint, type FramePose, type StagePoint } from '../../../planner/units/index.ts';

/** Protects: where a chip lies is read from one of its corners, through any camera. Truth: the frame that the picture was made with. */

const at = (xUm: number, yUm: number): StagePoint & ChipPoint => ({ xUm, yUm });
const outline = [at(0, 0), at(3000, 0), at(3000, 2000), at(0, 2000)];
const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });

describe('a chip frame from two edges', () => {
  it('is among the frames of its corners, within 1 um there and 2 mrad', () => {
    fc.assert(
      fc.property(number(-180, 180), number(-180, 180), fc.boolean(), fc.constantFrom(0, 1, 2, 3), (chipDeg, cameraDeg, mirrored, which) => {
        const truly: ChipFrame = { originUm: at(20_000, 15_000), angleDeg: chipDeg };
        const corner = outline[which] ?? at(0, 0);
        const pose: FramePose = { centreUm: toStage(truly, at(corner.xUm + 12, corner.yUm - 8)), cameraToStageUm: cameraToStage(1.5, cameraDeg, mirrored), widthPx: 200, heightPx: 160 };
        const data = Float32Array.from({ length: 200 * 160 }, (_, i) => {
          const { xUm, yUm } = toChip(truly, pixelToStage(pose, { colPx: (i % 200) + 0.5, rowPx: Math.floor(i / 200) + 0.5 }));
          const soft = (distance: number): number => 1 / (1 + Math.exp(-distance));
          return 5 + 90 * soft(xUm) * soft(3000 - xUm) * soft(yUm) * soft(2000 - yUm);
        });
        const edges = chipEdges({ widthPx: 200, heightPx: 160, data });
        if (!edges.ok) throw new Error(edges.refusal.code);
        const frames = framesFromCorner(stageCorner({ widthPx: 200, heightPx: 160, data }, pose, edges), outline);
        // All four corners are square: the pictures must tell which one it is.
        expect(frames).toHaveLength(4);
        const one = frames[which] ?? truly;
        expect(distanceUm(toStage(one, corner), toStage(truly, corner))).toBeLessThan(1);
        const turn = one.angleDeg - chipDeg;
        expect(Math.abs(turn - 360 * Math.round(turn / 360))).toBeLessThan(0.12);
      }),
      { numRuns: 20, endOnFailure: true },
    );
  });

  it('has no corner of another angle', () => {
    expect(framesFromCorner({ atUm: at(0, 0), fromRad: 0, toRad: Math.PI / 3 }, outline)).toEqual([]);
  });
});
