import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { affineMap } from '../../../planner/frames/localMap.ts';
import { distanceUm, type ChipPoint, type StagePoint } from '../../../planner/units/index.ts';

/** Protects: on a stage that is out of scale and out of square, places of a chip are predicted from those that were found. Truth: the affine map itself. */

const at = (xUm: number, yUm: number): StagePoint & ChipPoint => ({ xUm, yUm });
const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const found = [at(100, 200), at(9800, 9500), at(9000, 800), at(600, 8800)];

describe('places on a stage that is out of scale', () => {
  it('are predicted from four that were found, wherever the chip lies', () => {
    fc.assert(
      fc.property(number(-180, 180), number(-0.003, 0.003), number(-0.003, 0.003), number(-0.001, 0.001), (deg, ex, ey, skew) => {
        const turn = (deg * Math.PI) / 180;
        const onStage = (p: ChipPoint): StagePoint => {
          const [x, y] = [30_000 + p.xUm * Math.cos(turn) - p.yUm * Math.sin(turn), 20_000 + p.xUm * Math.sin(turn) + p.yUm * Math.cos(turn)];
          return at(x * (1 + ex) + y * skew, y * (1 + ey));
        };
        const map = affineMap(found.map((chipUm) => ({ chipUm, stageUm: onStage(chipUm) })));
        expect(map).toBeDefined();
        for (const place of [at(5000, 5000), at(0, 0), at(10_000, 0)]) expect(distanceUm(map?.(place) ?? at(NaN, NaN), onStage(place))).toBeLessThan(1e-3);
      }),
    );
  });

  it('are not, from two, from places near each other, or on one line, or where a wrong one stretches the chip', () => {
    const same = (places: readonly (StagePoint & ChipPoint)[]) => places.map((p) => ({ chipUm: p, stageUm: p }));
    expect(affineMap(same(found.slice(0, 2)))).toBeUndefined();
    expect(affineMap(same([at(0, 0), at(800, 0), at(0, 700)]))).toBeUndefined();
    expect(affineMap(same([at(0, 0), at(4000, 0), at(8000, 0)]))).toBeUndefined();
    expect(affineMap([...same(found.slice(0, 2)), { chipUm: at(9000, 800), stageUm: at(9400, 800) }])).toBeUndefined();
  });
});
