import { describe, expect, it } from 'vitest';
import { toJson } from '../../../daemon/records/json.ts';
import { flakeColumn } from '../../../daemon/records/shapes.ts';
import type { Flake } from '../../../planner/flakes/types.ts';
import { flake } from './samples.ts';

const shaped: Flake = {
  ...flake('F-1', 0),
  bar: { lengthUm: 20, widthUm: 5, angleDeg: 31.5, centreUm: { xUm: 12, yUm: -2 } },
  edges: [{ terrace: 0, fromUm: { xUm: 10, yUm: -3 }, toUm: { xUm: 14, yUm: -3 }, lengthUm: 4, angleDeg: 0, angleErrorDeg: 0.7, inFamily: true }],
  edgeFamily: { angleDeg: 0.1, angleErrorDeg: 0.3, directions: 3, members: 3, lengthShare: 1, chance: 0.03 },
  clearance: { radiusUm: 44, gapUm: 38, nearest: 'F-2' },
  cleanliness: { share: 0.93, blemishes: 1 },
  notes: [{ kind: 'confirmLarger', terrace: 0, acrossUm: 2.4, neededUm: 4.5 }, { kind: 'twoLayersOrFold', terrace: 1, base: 0, layers: 2, widthUm: 3 }],
  rankParts: { size: 0.2, layers: 1, probability: 0.97, cleanliness: 0.93 },
};

describe('what a flake says of its shape, in the records', () => {
  it('comes back as it was written, and a flake from before there was any is still read', () => {
    expect(flakeColumn.parse(toJson(shaped))).toEqual(shaped);
    expect(flakeColumn.parse(toJson(flake('F-0', 0)))).toEqual(flake('F-0', 0));
  });

  it('is refused when damaged', () => {
    for (const broken of [{ bar: { lengthUm: 20 } }, { edges: [{}] }, { clearance: { radiusUm: 'far' } }, { cleanliness: 1 }, { notes: [{ kind: 'other' }] }, { rankParts: null }]) {
      expect(flakeColumn.safeParse(JSON.stringify({ ...shaped, ...broken })).success).toBe(false);
    }
  });
});
