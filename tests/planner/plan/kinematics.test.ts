import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { approachPath, approachSeconds, axisSeconds, moveSeconds } from '../../../planner/plan/kinematics.ts';
import { needsRaising, travelSeconds } from '../../../planner/plan/travel.ts';
import { courseOver } from '../../../simulators/devices/carriage.ts';
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

  it('takes 4 (d/2j)^(1/3) with the jerk alone, and a/j longer than without it on ways long enough for top speed', () => {
    expect(axisSeconds(2, 1e9, 1e9, 1000)).toBeCloseTo(4 * Math.cbrt(1 / 1000), 12);
    expect(axisSeconds(25_000, 20_000, 100_000, 1e6)).toBeCloseTo(axisSeconds(25_000, 20_000, 100_000) + 0.1, 12);
  });

  it('takes with a jerk just as long as the simulated stage, which finds its top speed by halving', () => {
    const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
    fc.assert(
      fc.property(number(0.1, 50_000), number(100, 50_000), number(1000, 1e6), number(1e4, 1e8), (way, speed, acceleration, jerk) => {
        const course = courseOver(way, { maxSpeedUmPerS: speed, accelerationUmPerS2: acceleration, jerkUmPerS3: jerk });
        expect(course.durationMs / 1000 / axisSeconds(way, speed, acceleration, jerk)).toBeCloseTo(1, 6);
      }),
    );
  });

  it('goes straight, with speed and acceleration along the way', () => {
    expect(moveSeconds(at(0, 0), at(6000, -8000), timing)).toBeCloseTo(0.7, 12);
  });
});

describe('backlash', () => {
  it('goes straight when both axes arrive from below or stand still', () => {
    expect(approachPath(at(0, 0), at(10, 0), 15)).toEqual([at(10, 0)]);
  });

  it('overshoots on the axis that would arrive from above, and counts both moves', () => {
    expect(approachPath(at(1000, 0), at(0, 500), 15)).toEqual([at(-15, 500), at(0, 500)]);
    expect(approachSeconds(at(1000, 0), at(0, 500), timing)).toBeCloseTo(2 * Math.sqrt(Math.hypot(1015, 500) / 1e5) + 2 * Math.sqrt(15 / 1e5), 12);
  });

  it('goes straight where the play is known, and where an axis goes back by less than the stage can report', () => {
    expect(approachSeconds(at(1000, 0), at(0, 0), { ...timing, playUm: [12, 9] })).toBeCloseTo(0.2, 12);
    expect(approachPath(at(0, 0.15), at(500, 0), 15)).toEqual([at(500, 0)]);
  });

  it('always ends at the target and never arrives on an axis from above by more than the stage can report', () => {
    fc.assert(
      fc.property(place, place, fc.double({ min: 0, max: 50, noNaN: true }), (from, to, backlashUm) => {
        const path = approachPath(from, to, backlashUm);
        expect(path[path.length - 1]).toEqual(to);
        const before = path.length > 1 ? path[path.length - 2] : from;
        if (backlashUm > 0) expect(before !== undefined && before.xUm <= to.xUm + 0.2 && before.yUm <= to.yUm + 0.2).toBe(true);
      }),
    );
  });
});

describe('long ways', () => {
  it('counts the objective up and down when the low travel is too long, the overshoot included', () => {
    const high = { ...timing, perTileS: 0, lowTravel: { maxUm: 3000, raiseUm: 1000 } };
    expect(needsRaising(at(0, 0), at(2980, 0), 15, 3000)).toBe(true);
    expect(needsRaising(at(0, 0), at(2960, 0), 15, 3000)).toBe(false);
    // 4 mm at the ramp's end take 0.4 s; 1 mm up and 1 mm down at 0.5 mm/s take 4 s and, at 0.01 m/s2, 0.05 s more each.
    expect(travelSeconds(at(0, 0), at(4000, 0), high)).toBeCloseTo(4.5, 12);
    expect(travelSeconds(at(0, 0), at(1000, 0), high)).toBeCloseTo(0.2, 12);
  });
});
