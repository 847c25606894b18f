import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { courseOf } from '../../../daemon/telling/course.ts';
import { judgeFault, noFault, standsStillMs, type FaultState } from '../../../daemon/telling/faultWatch.ts';
import { roundLengthUm } from '../../../daemon/telling/pictures.ts';
import { waitUntilMorningMs } from '../../../daemon/telling/timeOfDay.ts';

/** Protects: a person is woken for what needs one and for nothing else; the summary's figures follow from the records; it comes at the time that was wished. */

type Look = Parameters<typeof judgeFault>[1];
const look = (change: Partial<Look>): Look => ({ state: 'scanning', sentence: 'Scanning K-07.', tilesDone: 100, tilesSkipped: 0, ...change });

/** What is told of a course of looks, each at its second. */
function toldOf(looks: readonly (readonly [atS: number, change: Partial<Look>])[]): readonly string[] {
  let state: FaultState = noFault;
  return looks.flatMap(([atS, change]) => {
    const judged = judgeFault(state, look(change), 1000 * atS);
    state = judged.state;
    return judged.tell;
  });
}

describe('when a person is told of a fault', () => {
  it('not for retries, each over within two minutes, however many', () => {
    expect(toldOf(Array.from({ length: 200 }, (_, n) => [60 * n, { state: n % 2 === 0 ? 'recovering' : 'scanning' }] as const))).toEqual([]);
  });

  it('once for each standstill of two minutes', () => {
    const still = { state: 'recovering', sentence: 'Waiting for the stage.' } as const;
    const after = standsStillMs / 1000;
    const told = toldOf([[0, still], [after - 1, still], [after, still], [after + 300, still], [after + 301, {}], [1000, still], [1000 + after, still]]);
    expect(told).toEqual(Array(2).fill('The night has stood still for 2 minutes. Waiting for the stage.'));
  });

  it('once for a tenth of the tiles left out, not for a few', () => {
    expect(toldOf([[0, { tilesDone: 1, tilesSkipped: 9 }], [1, { tilesDone: 200, tilesSkipped: 12 }]])).toEqual([]);
    expect(toldOf([[0, { tilesDone: 90, tilesSkipped: 10 }], [1, { tilesDone: 90, tilesSkipped: 60 }]])).toEqual(['10 of 100 tiles so far were left out. The night goes on.']);
  });
});

describe('how a night went', () => {
  it('counts what ran and what it waited for, and leaves out the time when it was parked', () => {
    const at = (minutes: number, state: Parameters<typeof courseOf>[0]['transitions'][number]['state']) => ({ atMs: 60_000 * minutes, state, cause: '' });
    const skipped = (reason: string) => ({ outcome: 'skipped' as const, reason });
    const course = courseOf({
      forecastS: 3000,
      transitions: [at(0, 'scanning'), at(10, 'waiting'), at(12, 'scanning'), at(20, 'recovering'), at(25, 'parked'), at(500, 'preflight'), at(501, 'scanning'), at(531, 'finished')],
      tiles: [{ outcome: 'done' }, skipped('black'), skipped('stalled'), skipped('black')],
      closeUps: [{ outcome: 'done' }, { outcome: 'skipped' }],
    });
    expect(course).toEqual({
      forecastS: 3000,
      tookS: 60 * (25 + 31),
      waits: [{ what: 'for the classifier', seconds: 120 }, { what: 'to get over trouble', seconds: 300 }],
      skipped: [{ reason: 'the frame is black', tiles: 2 }, { reason: 'the stage or the focus drive did not get where it was sent', tiles: 1 }],
      closeUpsDone: 1,
      closeUpsSkipped: 1,
    });
  });
});

describe('the time of day of the summary', () => {
  const before = process.env.TZ;
  beforeAll(() => {
    process.env.TZ = 'Europe/Berlin';
  });
  afterAll(() => {
    if (before === undefined) delete process.env.TZ;
    else process.env.TZ = before;
  });
  const local = (text: string): number => new Date(text).getTime();
  const hours = 3_600_000;

  it.each([
    ['2026-01-18T03:10:00', '06:30', 3 * hours + 20 * 60_000],
    ['2026-01-17T23:30:00', '06:30', 7 * hours],
    ['2026-01-18T06:30:00', '06:30', 0],
    ['2026-01-18T09:00:00', '06:30', 0],
    ['2026-01-18T09:00:00', undefined, 0],
    // The clocks go forward at 2:00 on 29 March 2026 (Directive 2000/84/EC): an hour less.
    ['2026-03-29T00:30:00', '06:30', 5 * hours],
  ])('from %s to %s', (from, wished, waitMs) => {
    expect(waitUntilMorningMs(wished, local(from))).toBe(waitMs);
  });
});

describe('a scale bar', () => {
  it.each([[0.34, 0.2], [1, 1], [7.9, 5], [12, 10], [49.9, 20], [50, 50], [730, 500]])('of at most %d um is %d um long', (most, is) => {
    expect(roundLengthUm(most)).toBeCloseTo(is, 9);
  });
});
