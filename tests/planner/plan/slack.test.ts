import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { commandFor, FROM_BELOW, sampleAtUm } from '../../../planner/plan/slack.ts';
import type { PlayUm, SlackSides } from '../../../planner/plan/slack.ts';
import type { StagePoint } from '../../../planner/units/index.ts';
import { withPlay } from '../../../simulators/devices/carriage.ts';
import { at } from './requests.ts';

/** Protects: with the slack known, the sample comes to its target from either side. Truth: the simulated stage's own slack, a clamp. */

const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const place = fc.record({ xUm: number(0, 5000), yUm: number(0, 5000) });

/** Drives a stage with slack to the targets in turn; calls `check` with the target and where the sample then is. */
function drive(targets: readonly StagePoint[], truePlay: PlayUm, toldPlay: PlayUm, check: (target: StagePoint, sample: StagePoint, believed: StagePoint) => void): void {
  let reported = at(0, 0);
  let sample = at(0, 0);
  let sides: SlackSides = FROM_BELOW;
  for (const target of targets) {
    const next = commandFor(target, reported, sides, toldPlay);
    reported = next.commandUm;
    sides = next.sides;
    sample = at(withPlay(sample.xUm, reported.xUm, truePlay[0]), withPlay(sample.yUm, reported.yUm, truePlay[1]));
    check(target, sample, sampleAtUm(reported, sides, toldPlay));
  }
}

describe('slack that was measured', () => {
  it('is made up for: whatever the order of places, the sample is where it should be, and is believed there', () => {
    fc.assert(
      fc.property(fc.array(place, { minLength: 1, maxLength: 30 }), number(0, 40), number(0, 40), (targets, playX, playY) => {
        drive(targets, [playX, playY], [playX, playY], (target, sample, believed) => {
          // 0.2 um: an axis that is so near already is left alone.
          expect(Math.abs(sample.xUm - target.xUm)).toBeLessThanOrEqual(0.2 + 1e-9);
          expect(Math.abs(sample.yUm - target.yUm)).toBeLessThanOrEqual(0.2 + 1e-9);
          expect(Math.hypot(believed.xUm - sample.xUm, believed.yUm - sample.yUm)).toBeLessThan(1e-9);
        });
      }),
    );
  });

  it('measured wrongly leaves no more than the error of the measurement', () => {
    fc.assert(
      fc.property(fc.array(place, { minLength: 1, maxLength: 30 }), number(5, 20), number(-2, 2), (targets, play, error) => {
        drive(targets, [play, play], [play + error, play + error], (target, sample) => {
          expect(Math.abs(sample.xUm - target.xUm)).toBeLessThanOrEqual(Math.abs(error) + 0.2 + 1e-9);
        });
      }),
    );
  });

  it('leaves an axis alone that need not move', () => {
    expect(commandFor(at(500, 100), at(900, 100), { x: 'low', y: 'high' }, [12, 9])).toEqual({ commandUm: at(488, 109 - 18), sides: { x: 'high', y: 'high' } });
    expect(commandFor(at(500, 109), at(900, 100), { x: 'low', y: 'high' }, [12, 9])).toEqual({ commandUm: at(488, 100), sides: { x: 'high', y: 'high' } });
  });
});
