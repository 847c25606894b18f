import { describe, expect, it } from 'vitest';
import { toStepMm, toUm, type GcodeAxis } from '../../../drivers/gcode/axis.ts';
import { encodeJog } from '../../../drivers/gcode/commands.ts';
import { stoppingMs, travelMs, waySpeedMmPerS } from '../../../drivers/gcode/travelTime.ts';
import { alarmed, atRest, found, isPossible, lost, NOWHERE, onReturn, setOut } from '../../../drivers/gcode/whereabouts.ts';

const axis: GcodeAxis = { letter: 'Y', sign: -1, originUm: 500, minUm: 0, maxUm: 10_000, stepsPerMm: 800 };
const target = (letter: string, index: number, mm: number) => ({ letter, index, mm });

describe('an axis', () => {
  it('by hand: origin 500 um, counting against the machine, at -2 mm is 2500 um', () => {
    expect(toUm(axis, -2, 0)).toBe(2500);
    expect(toStepMm(axis, 2500, 0)).toBe(-2);
  });
  it('counts from its reference place', () => {
    expect(toUm(axis, 3, 3)).toBe(500);
    expect(toStepMm(axis, 500, 3)).toBe(3);
  });
  it('goes to whole steps: 1.25 um each at 800 steps per mm', () => {
    expect(toUm(axis, toStepMm(axis, 2500.6, 0), 0)).toBe(2500);
    expect(toUm(axis, toStepMm(axis, 2500.7, 0), 0)).toBe(2501.25);
  });
});

// Form of a jog: documentation of the open-source firmware grbl 1.1, "jogging", from memory.
describe('a jog', () => {
  it('says units, kind of way and frame, and cuts its feed', () => {
    expect(encodeJog([target('X', 0, -10), target('Y', 1, 5.25)], 1000)).toBe('$J=G21G90G53X-10Y5.25F60');
    expect(encodeJog([target('Z', 2, -0.0000001)], 333.333)).toBe('$J=G21G90G53Z0F19.99');
    expect(encodeJog([target('X', 0, 100)], 20_000)).toBe('$J=G21G90G53X100F1200');
  });
});

describe('travel time', () => {
  const pace = { maxSpeedMmPerS: 10, accelerationMmPerS2: 100 };
  it('by hand: 0.4 mm at 100 mm/s2 never reaches 10 mm/s: 2 sqrt(0.4 / 100) = 126.5 ms', () => {
    expect(travelMs([0.4], [pace], 1000)).toBeCloseTo(126.49, 2);
  });
  it('by hand: 5 mm at 10 mm/s: 0.1 s up, 0.1 s down, 4 mm between: 600 ms', () => {
    expect(travelMs([5], [pace], 1000)).toBeCloseTo(600, 6);
    expect(travelMs([5], [pace], 5)).toBeCloseTo(1050, 6);
  });
  it('along a diagonal each axis has its share: 3-4-5, the longer leg at its limit', () => {
    expect(waySpeedMmPerS([3, 4], [pace, pace], 1000)).toBeCloseTo(12.5, 6);
    expect(waySpeedMmPerS([3, 4], [{ ...pace, maxSpeedMmPerS: 3 }, pace], 1000)).toBeCloseTo(5, 6);
  });
  it('of no way is none', () => {
    expect([travelMs([0, 0], [pace, pace], 5), stoppingMs([0], [pace], 5)]).toEqual([0, 0]);
  });
  it('by hand: from 10 mm/s at 100 mm/s2 it stands after 100 ms', () => {
    expect(stoppingMs([5], [pace], 1000)).toBeCloseTo(100, 6);
  });
});

describe('what is known of the place', () => {
  const speeds = [10, 10, 10];
  const known = found([1, 2, 3], 0);
  const going = setOut(known, [1, 2, 3], [2, 2, 3], 1000);

  it('at rest it is there and nowhere else', () => {
    expect(isPossible(known, [1, 2, 3.001], 5000, speeds)).toBe(true);
    expect(isPossible(known, [1, 2, 3.002], 5000, speeds)).toBe(false);
  });
  it('under way it is on the way, and no further than speed allows: 10 mm/s for 20 ms and 30 ms for reading is 0.5 mm', () => {
    expect(isPossible(going, [1.49, 2, 3], 1020, speeds)).toBe(true);
    expect(isPossible(going, [1.6, 2, 3], 1020, speeds)).toBe(false);
    expect(isPossible(going, [1.2, 2.1, 3], 1020, speeds)).toBe(false);
    expect(isPossible(going, [2.5, 2, 3], 2000, speeds)).toBe(false);
  });
  it('comes back believed only where it should stand', () => {
    expect(onReturn(known, [1, 2, 3], 9).lostBecause).toBeUndefined();
    expect(onReturn(known, [1, 2, 3.1], 9).lostBecause).toContain('does not stand');
    expect(onReturn(going, [1.7, 2, 3], 9)).toMatchObject({ lostBecause: undefined, restMm: [1.7, 2, 3] });
    expect(onReturn(going, [2.0005, 2, 3], 9)).toMatchObject({ restMm: [2, 2, 3] });
    expect(onReturn(going, [1.7, 2.5, 3], 9).lostBecause).toBeDefined();
  });
  it('all zeros after a way prove nothing, even on it', () => {
    const throughZero = setOut(known, [-1, 0, 0], [1, 0, 0], 0);
    expect(onReturn(throughZero, [0, 0, 0], 9).lostBecause).toContain('counts from zero');
    expect(onReturn(atRest(known, [0, 0, 0], 0), [0, 0, 0], 9).lostBecause).toBeUndefined();
  });
  // Which alarms keep the position: documentation of grbl 1.1, "alarm message", from memory.
  it('is lost after a hard limit, kept after a soft one', () => {
    expect(alarmed(known, 1)).toMatchObject({ alarm: 1, lostBecause: 'alarm 1' });
    expect(alarmed(known, 2)).toMatchObject({ alarm: 2, lostBecause: undefined });
  });
  it('once lost stays lost, whatever is seen', () => {
    expect(NOWHERE.lostBecause).toBeDefined();
    expect(onReturn(lost(known, 'x'), [1, 2, 3], 9).lostBecause).toBe('x');
  });
});
