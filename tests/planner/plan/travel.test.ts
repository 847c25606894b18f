import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { containsPoint } from '../../../planner/geometry/polygon.ts';
import { outlinePolygon } from '../../../planner/plan/outline.ts';
import { lowHops, travelSeconds } from '../../../planner/plan/travel.ts';
import { distanceUm } from '../../../planner/units/index.ts';
import { anyOutline, at, timing } from './requests.ts';

/** Protects: the objective stays down on a long way only where the way lies over the chip that is scanned. */

const place = fc.record({ xUm: fc.double({ min: 44_000, max: 56_000, noNaN: true }), yUm: fc.double({ min: 44_000, max: 56_000, noNaN: true }) });

describe('long ways over a chip', () => {
  it('are gone in stretches that the limit allows, all of them over the chip; else not low at all (law)', () => {
    fc.assert(
      fc.property(anyOutline, place, place, fc.double({ min: 500, max: 4000, noNaN: true }), (outline, from, to, maxUm) => {
        const chip = outlinePolygon(outline);
        const hops = lowHops(from, to, chip, 15, maxUm);
        if (!hops) return;
        expect(distanceUm(hops.at(-1) ?? at(0, 0), to)).toBeLessThan(1e-6);
        hops.forEach((hop, i) => expect(distanceUm(hop, hops[i - 1] ?? from)).toBeLessThanOrEqual(maxUm - 30 + 1e-6));
        for (let share = 0; share <= 1; share += 1 / 64) {
          expect(containsPoint(chip, at(from.xUm + share * (to.xUm - from.xUm), from.yUm + share * (to.yUm - from.yUm)))).toBe(true);
        }
      }),
    );
  });

  it('leave the chip where a notch lies between: then the objective goes up', () => {
    const u = [at(0, 0), at(9000, 0), at(9000, 8000), at(8000, 8000), at(8000, 1000), at(1000, 1000), at(1000, 8000), at(0, 8000)];
    expect(lowHops(at(500, 7000), at(8500, 7000), u, 15, 3000)).toBeUndefined();
    expect(lowHops(at(500, 500), at(8500, 500), u, 15, 3000)).toHaveLength(3);
    const high = { ...timing, perTileS: 0, lowTravel: { maxUm: 3000, raiseUm: 1000 } };
    // 8 mm in three stretches, each 2 sqrt(d/a); lifted by 48 um at 0.5 mm/s first, 0.05 s of it speeding up.
    expect(travelSeconds(at(500, 500), at(8500, 500), high, u)).toBeCloseTo(3 * 2 * Math.sqrt(8000 / 3 / 1e5) + 48 / 500 + 0.05, 9);
    // 0.4 s + 0.2 s up to 20 mm/s and on, and 2 x 2.05 s for the objective.
    expect(travelSeconds(at(500, 7000), at(8500, 7000), high, u)).toBeCloseTo(0.6 + 4.1, 9);
  });
});
