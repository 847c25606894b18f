import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { approachPath, approachSeconds, axisSeconds, moveSeconds } from '../../../planner/plan/kinematics.ts';
import { needsRaising, travelSeconds } from '../../../planner/plan/travel.ts';
import { at, timing } from './requests.ts';

const place = fc.record({ xUm: fc.double({ min: -1e5, max: 1e5, noNaN: true }), yUm: fc.double({ min: -1e5, max: 1e5, noNaN: true }) });

/** Distance covered after `seconds` of a rest-to-rest move, by adding up small steps of the speed profile. */
function distanceAfter(seconds: number, maxSpeed: number, acceleration: number): number {
  const steps = 200_000;
  const dt = seconds / steps;
  let way = 0;
  for (let i = 0; i < steps; i += 1) {
    const t = (i + 0.5) * dt;
    way += Math.min(maxSpeed, acceleration * t, acceleration * (seconds - t)) * dt;
  }
  return way;
}

describe('kinematics (closed forms, and the area under the speed curve added up numerically)', () => {
  it('takes 2 sqrt(d/a) for short ways and d/v + v/a for long ones', () => {
    expect(axisSeconds(1000, 20_000, 100_000)).toBeCloseTo(0.2, 12);
    expect(axisSeconds(4000, 20_000, 100_000)).toBeCloseTo(0.4, 12);
    expect(axisSeconds(-10_000, 20_000, 100_000)).toBeCloseTo(0.7, 12);
    expect(axisSeconds(0, 20_000, 100_000)).toBe(0);
  });

  it('covers just the distance in that time', () => {
    for (const way of [15, 760, 3999, 4001, 25_000]) {
      const seconds = axisSeconds(way, 20_000, 100_000);
      expect(distanceAfter(seconds, 20_000, 100_000) / way).toBeCloseTo(1, 5);
    }
  });

  it('waits for the slower axis', () => {
    expect(moveSeconds(at(0, 0), at(1000, -10_000), timing)).toBeCloseTo(0.7, 12);
  });
});

describe('backlash', () => {
  it('goes straight when both axes arrive from below or stand still', () => {
    expect(approachPath(at(0, 0), at(10, 0), 15)).toEqual([at(10, 0)]);
  });

  it('overshoots on the axis that would arrive from above, and counts both moves', () => {
    expect(approachPath(at(1000, 0), at(0, 500), 15)).toEqual([at(-15, 500), at(0, 500)]);
    expect(approachSeconds(at(1000, 0), at(0, 500), timing)).toBeCloseTo(2 * Math.sqrt(1015 / 1e5) + 2 * Math.sqrt(15 / 1e5), 12);
  });

  it('always ends at the target and never arrives on an axis from above', () => {
    fc.assert(
      fc.property(place, place, fc.double({ min: 0, max: 50, noNaN: true }), (from, to, backlashUm) => {
        const path = approachPath(from, to, backlashUm);
        expect(path[path.length - 1]).toEqual(to);
        const before = path.length > 1 ? path[path.length - 2] : from;
        if (backlashUm > 0) expect(before !== undefined && before.xUm <= to.xUm && before.yUm <= to.yUm).toBe(true);
      }),
    );
  });
});

describe('long ways', () => {
  it('counts the objective up and down when the low travel is too long, the overshoot included', () => {
    const high = { ...timing, perTileS: 0, lowTravel: { maxUm: 3000, raiseUm: 1000 } };
    expect(needsRaising(at(0, 0), at(2980, 0), 15, 3000)).toBe(true);
    expect(needsRaising(at(0, 0), at(2960, 0), 15, 3000)).toBe(false);
    // 4 mm at the ramp's end take 0.4 s; 1 mm up and 1 mm down at 0.5 mm/s take 4 s.
    expect(travelSeconds(at(0, 0), at(4000, 0), high)).toBeCloseTo(4.4, 12);
    expect(travelSeconds(at(0, 0), at(1000, 0), high)).toBeCloseTo(0.2, 12);
  });
});
