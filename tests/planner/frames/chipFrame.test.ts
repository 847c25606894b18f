import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { chipFrameFromMarks, chipFrameOf, toChip, toStage } from '../../../planner/frames/chipFrame.ts';
import type { ChipFrame } from '../../../planner/frames/chipFrame.ts';
import type { Outline } from '../../../planner/plan/types.ts';
import { distanceUm } from '../../../planner/units/index.ts';
import type { ChipPoint, StagePoint } from '../../../planner/units/index.ts';

const at = (xUm: number, yUm: number): StagePoint & ChipPoint => ({ xUm, yUm });
const coordinate = fc.double({ min: -1e5, max: 1e5, noNaN: true });
const place = fc.record({ xUm: coordinate, yUm: coordinate });
const frame: fc.Arbitrary<ChipFrame> = fc.record({ originUm: place, angleDeg: fc.double({ min: -720, max: 720, noNaN: true }) });
const near = (a: StagePoint | ChipPoint, xUm: number, yUm: number, withinUm = 1e-6) => expect(Math.hypot(a.xUm - xUm, a.yUm - yUm)).toBeLessThan(withinUm);

describe('chip and stage', () => {
  it('come back to where they began, both ways', () => {
    fc.assert(
      fc.property(frame, place, (chip, p) => {
        expect(distanceUm(toStage(chip, toChip(chip, p)), p)).toBeLessThan(1e-6);
        expect(distanceUm(toChip(chip, toStage(chip, p)), p)).toBeLessThan(1e-6);
      }),
    );
  });

  it('keep distances and handedness', () => {
    fc.assert(
      fc.property(frame, place, place, (chip, p, q) => {
        expect(Math.abs(distanceUm(toChip(chip, p), toChip(chip, q)) - distanceUm(p, q))).toBeLessThan(1e-6);
        const [o, x, y] = [at(0, 0), at(1, 0), at(0, 1)].map((corner) => toStage(chip, corner));
        if (!o || !x || !y) throw new Error('three corners');
        expect((x.xUm - o.xUm) * (y.yUm - o.yUm) - (x.yUm - o.yUm) * (y.xUm - o.xUm)).toBeCloseTo(1, 6);
      }),
    );
  });
});

describe('chip frame from an outline', () => {
  it('of a rectangle: its lowest local corner, x along the width', () => {
    const rectangle: Outline = { shape: 'rectangle', centreUm: at(1000, 2000), widthUm: 600, heightUm: 400, angleDeg: 30 };
    const chip = chipFrameOf(rectangle);
    near(toChip(chip, at(1000, 2000)), 300, 200);
    near(toStage(chip, at(600, 0)), 1000 + 300 * Math.cos(Math.PI / 6) + 200 * Math.sin(Math.PI / 6), 2000 + 300 * Math.sin(Math.PI / 6) - 200 * Math.cos(Math.PI / 6));
  });

  it('of a polygon: along its longest edge with the chip at positive y, whichever way it was drawn', () => {
    const corners = [at(0, 0), at(0, 3), at(-10, 3), at(-10, 0)];
    for (const drawn of [corners, [...corners].reverse()]) {
      const chip = chipFrameOf({ shape: 'polygon', cornersUm: drawn });
      for (const corner of corners) {
        const own = toChip(chip, corner);
        expect(own.xUm).toBeGreaterThan(-1e-9);
        expect(own.yUm).toBeGreaterThan(-1e-9);
        expect(own.xUm).toBeLessThan(10 + 1e-9);
        expect(own.yUm).toBeLessThan(3 + 1e-9);
      }
    }
  });

  it('of a circle: its middle; and none of nothing', () => {
    expect(chipFrameOf({ shape: 'circle', centreUm: at(5, 6), radiusUm: 3 })).toEqual({ originUm: at(5, 6), angleDeg: 0 });
    expect(() => chipFrameOf({ shape: 'polygon', cornersUm: [] })).toThrow(RangeError);
  });
});

describe('chip frame from two marks', () => {
  it('finds any remounting again, without misfit', () => {
    fc.assert(
      fc.property(frame, place, place, place, (chip, a, b, flake) => {
        fc.pre(distanceUm(a, b) > 2000);
        const result = chipFrameFromMarks({ chipUm: a, stageUm: toStage(chip, a) }, { chipUm: b, stageUm: toStage(chip, b) });
        expect(result.ok).toBe(true);
        if (!result.ok) return;
        expect(Math.abs(result.misfitUm)).toBeLessThan(1e-6);
        // A flake as far as 280 mm from marks 2 mm apart: rounding is stretched with the distance.
        expect(distanceUm(toStage(result.frame, flake), toStage(chip, flake))).toBeLessThan(1e-4);
      }),
    );
  });

  it('does not stretch: a distance that is 10 um too long becomes a misfit, half on each mark', () => {
    const result = chipFrameFromMarks({ chipUm: at(0, 0), stageUm: at(100, 100) }, { chipUm: at(5000, 0), stageUm: at(100, 5110) });
    if (!result.ok) throw new Error(result.refusal.code);
    expect(result.misfitUm).toBeCloseTo(10, 9);
    near(toStage(result.frame, at(0, 0)), 100, 105);
    near(toStage(result.frame, at(5000, 0)), 100, 5105);
    expect(result.frame.angleDeg).toBeCloseTo(90, 9);
  });

  it('refuses marks that are too close, and a misfit beyond what is allowed', () => {
    const close = chipFrameFromMarks({ chipUm: at(0, 0), stageUm: at(0, 0) }, { chipUm: at(500, 0), stageUm: at(500, 0) });
    expect(close).toEqual({ ok: false, refusal: { code: 'marksTooClose', apartUm: 500, leastUm: 1000 } });
    const wrong = chipFrameFromMarks({ chipUm: at(0, 0), stageUm: at(0, 0) }, { chipUm: at(5000, 0), stageUm: at(5100, 0) }, 30);
    expect(wrong).toEqual({ ok: false, refusal: { code: 'marksContradict', misfitUm: 100, allowedUm: 30 } });
  });
});
