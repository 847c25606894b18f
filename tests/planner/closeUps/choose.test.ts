import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { closeUpsInBudget, secondsPerCloseUp, type CloseUpCandidate, type TourPlace } from '../../../planner/closeUps/index.ts';
import { searchCost, searchSeconds } from '../../../planner/focus/exposures.ts';
import { distanceUm, type StagePoint } from '../../../planner/units/index.ts';

/** Protects: close-ups fit into their time, the best first, in a short tour. Laws of our own, and small cases worked out by hand. */

const travelS = (from: TourPlace, to: TourPlace): number => distanceUm(from.atUm, to.atUm) / 1000;
const place = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });
const candidate = (id: string, xUm: number, yUm: number, value: number): CloseUpCandidate => ({ id, chip: 'A', atUm: place(xUm, yUm), value });
const anywhere = fc.record({ xUm: fc.integer({ min: 0, max: 10_000 }), yUm: fc.integer({ min: 0, max: 10_000 }) });
const some = fc
  .array(fc.record({ atUm: anywhere, value: fc.double({ min: 0.001, max: 1, noNaN: true }) }), { minLength: 1, maxLength: 25 })
  .map((all) => all.map((each, i): CloseUpCandidate => ({ id: `f${i}`, chip: 'A', ...each })));
const asked = fc.record({ candidates: some, fromUm: anywhere, budgetS: fc.double({ min: 0, max: 120, noNaN: true }), atPlaceS: fc.double({ min: 0.5, max: 8, noNaN: true }) });

describe('close-ups within a time', () => {
  it('are never over it, each once, with the time that they say', () => {
    fc.assert(
      fc.property(asked, (budget) => {
        const { tour, seconds } = closeUpsInBudget({ ...budget, travelS });
        const places: readonly TourPlace[] = [{ atUm: budget.fromUm }, ...tour];
        const spentS = tour.reduce((sum, each, i) => sum + budget.atPlaceS + travelS(places[i] ?? each, each), 0);
        expect(seconds).toBeLessThanOrEqual(budget.budgetS);
        expect(seconds).toBeCloseTo(spentS, 9);
        expect(new Set(tour).size).toBe(tour.length);
      }),
    );
  });

  it('do not depend on the order in which candidates are given', () => {
    fc.assert(
      fc.property(asked, (budget) => {
        expect(closeUpsInBudget({ ...budget, candidates: [...budget.candidates].reverse(), travelS })).toEqual(closeUpsInBudget({ ...budget, travelS }));
      }),
      { numRuns: 40 },
    );
  });

  it('never leave a better one out for a worse one that costs as much', () => {
    fc.assert(
      fc.property(asked, fc.nat(), fc.double({ min: 0.001, max: 1, noNaN: true }), (budget, which, value) => {
        // One more at the very place of another: all ways to it cost the same.
        const twin = budget.candidates[which % budget.candidates.length];
        if (!twin) return;
        const candidates = [...budget.candidates, { ...twin, id: 'twin', value }];
        const chosen = closeUpsInBudget({ ...budget, candidates, travelS }).tour.map(({ id }) => id);
        const [better, worse] = value > twin.value ? ['twin', twin.id] : [twin.id, 'twin'];
        if (value !== twin.value && chosen.includes(worse)) expect(chosen).toContain(better);
      }),
      { numRuns: 300 },
    );
  });

  it('leave nothing out that can be put at the end', () => {
    fc.assert(
      fc.property(asked, (budget) => {
        const { tour, seconds } = closeUpsInBudget({ ...budget, travelS });
        const last = tour.at(-1) ?? { atUm: budget.fromUm };
        for (const left of budget.candidates.filter((each) => !tour.includes(each))) {
          expect(seconds + budget.atPlaceS + travelS(last, left)).toBeGreaterThan(budget.budgetS);
        }
      }),
    );
  });

  it('are the best ones where ways take no time', () => {
    const candidates = [0.3, 0.9, 0.1, 0.7, 0.5].map((value, i) => candidate(`f${i}`, 1000 * i, 0, value));
    const { tour, seconds } = closeUpsInBudget({ candidates, fromUm: place(0, 0), budgetS: 10, atPlaceS: 3, travelS: () => 0 });
    expect(tour.map(({ value }) => value).sort((a, b) => a - b)).toEqual([0.5, 0.7, 0.9]);
    expect(seconds).toBe(9);
  });

  it('are gone to along the line that they lie on', () => {
    const candidates = [4, 1, 3, 5, 2].map((mm) => candidate(`f${mm}`, 1000 * mm, 0, 1 / mm));
    const { tour, seconds } = closeUpsInBudget({ candidates, fromUm: place(0, 0), budgetS: 60, atPlaceS: 1, travelS });
    expect(tour.map(({ id }) => id)).toEqual(['f1', 'f2', 'f3', 'f4', 'f5']);
    expect(seconds).toBeCloseTo(10, 9);
  });

  it('are none where there is no time or nothing to look at', () => {
    expect(closeUpsInBudget({ candidates: [candidate('f', 0, 0, 1)], fromUm: place(0, 0), budgetS: 2, atPlaceS: 3, travelS })).toEqual({ tour: [], seconds: 0 });
    expect(closeUpsInBudget({ candidates: [candidate('f', 0, 0, 0)], fromUm: place(0, 0), budgetS: 9, atPlaceS: 3, travelS })).toEqual({ tour: [], seconds: 0 });
  });
});

describe('the time of one close-up', () => {
  const timing = { settleMs: 60, focusSettleMs: 20, focusSpeedUmPerS: 500, focusAccelerationUmPerS2: 10_000, exposureMs: 10, readoutMs: 40 };
  const policy = { focusRangeUm: 5, depthOfFieldUm: 0.8, takeUpUm: 1, stackFrames: 5, stackStepUm: 0.4 };

  it('is settling, searching and the frames of the stack', () => {
    // Short ways take 2 sqrt(d/a): 1.8 um down, 1 um up, four steps of 0.4 um (uniform acceleration; any textbook of mechanics).
    const ways = 2 * (Math.sqrt(1.8 / 10_000) + Math.sqrt(1 / 10_000) + 4 * Math.sqrt(0.4 / 10_000));
    const searchS = searchSeconds(searchCost(5, 0.8, 1, 0), timing);
    expect(secondsPerCloseUp(policy, timing)).toBeCloseTo(0.06 + searchS + 5 * 0.07 + ways, 9);
  });

  it('is focusing for its larger part', () => {
    const all = secondsPerCloseUp(policy, timing);
    expect(searchSeconds(searchCost(5, 0.8, 1, 0), timing)).toBeGreaterThan(all / 2);
  });
});
