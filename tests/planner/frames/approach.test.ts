import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { planApproach } from '../../../planner/frames/approach.ts';
import type { ApproachRequest, ApproachStep } from '../../../planner/frames/approach.ts';
import type { StagePoint } from '../../../planner/units/index.ts';

const at = (xUm: number, yUm: number): StagePoint => ({ xUm, yUm });
const base: ApproachRequest = {
  fromUm: at(10_000, 10_000),
  fromZUm: 1500,
  targetUm: at(11_000, 9000),
  focusZUm: 1490,
  safeHeightUm: 4000,
  maxLowTravelUm: 3000,
  backlashUm: 15,
  limits: { xMinUm: 0, xMaxUm: 100_000, yMinUm: 0, yMaxUm: 100_000 },
};
const stepsOf = (request: ApproachRequest): readonly ApproachStep[] => {
  const result = planApproach(request);
  if (!result.ok) throw new Error(result.refusal.code);
  return result.steps;
};

const inside = fc.record({ xUm: fc.double({ min: 0, max: 1e5, noNaN: true }), yUm: fc.double({ min: 0, max: 1e5, noNaN: true }) });
const anyRequest: fc.Arbitrary<ApproachRequest> = fc.record({
  fromUm: inside,
  targetUm: inside,
  fromZUm: fc.double({ min: 1000, max: 5000, noNaN: true }),
  focusZUm: fc.double({ min: 1000, max: 3000, noNaN: true }),
  safeHeightUm: fc.constant(4000),
  maxLowTravelUm: fc.constantFrom(0, 3000, 50_000),
  backlashUm: fc.constantFrom(0, 15, 100),
  limits: fc.constant(base.limits),
});

describe('the way to a flake', () => {
  it('stays low for a short way, takes up backlash on both axes and lowers at the end', () => {
    expect(stepsOf(base)).toEqual([
      { kind: 'moveXy', toUm: at(10_985, 8985) },
      { kind: 'moveXy', toUm: at(11_000, 9000) },
      { kind: 'lower', zUm: 1490 },
    ]);
  });

  it('raises to the safe height for a long way', () => {
    expect(stepsOf({ ...base, targetUm: at(13_000, 10_000) }).map((step) => step.kind)).toEqual(['raise', 'moveXy', 'moveXy', 'lower']);
  });

  it('raises to the focus first when that is higher', () => {
    expect(stepsOf({ ...base, focusZUm: 1510 })[0]).toEqual({ kind: 'raise', zUm: 1510 });
  });

  it('refuses a target beyond the limits, naming which and by how much', () => {
    expect(planApproach({ ...base, targetUm: at(50, 100_020) })).toEqual({ ok: false, refusal: { code: 'targetBeyondTravel', limit: 'yMax', byUm: 20, limitUm: 100_000 } });
    expect(planApproach({ ...base, targetUm: at(NaN, 5) }).ok).toBe(false);
  });

  it('never moves sideways lower than it starts, ends or must; lowers only after the last move; ends at target and focus (any request)', () => {
    fc.assert(
      fc.property(anyRequest, (request) => {
        let [z, x, y] = [request.fromZUm, request.fromUm.xUm, request.fromUm.yUm];
        let lowered = false;
        for (const step of stepsOf(request)) {
          if (step.kind === 'moveXy') {
            expect(lowered).toBe(false);
            expect(z).toBeGreaterThanOrEqual(Math.max(request.fromZUm, request.focusZUm));
            const way = Math.hypot(step.toUm.xUm - x, step.toUm.yUm - y);
            if (way > request.maxLowTravelUm) expect(z).toBeGreaterThanOrEqual(request.safeHeightUm);
            expect(step.toUm.xUm).toBeGreaterThanOrEqual(0);
            expect(step.toUm.yUm).toBeGreaterThanOrEqual(0);
            [x, y] = [step.toUm.xUm, step.toUm.yUm];
          } else {
            expect(step.kind === 'raise' ? step.zUm > z : step.zUm < z).toBe(true);
            lowered ||= step.kind === 'lower';
            z = step.zUm;
          }
        }
        expect([z, x, y]).toEqual([request.focusZUm, request.targetUm.xUm, request.targetUm.yUm]);
      }),
    );
  });
});
