import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { leastBetween, nextToJudge, secondShare, type Draw, type Judgement } from '../../../planner/secondJudging/order.ts';
import { randomStream } from '../../../simulators/random.ts';

/** Protects: about one flake in twenty comes up once more, never soon, never twice, always the same for the same draw. Laws of our own. */

function drawOf(seed: number): Draw {
  return (key) => {
    const random = randomStream(seed, key, 'draw');
    return [random.between(0, 1), random.between(0, 1)];
  };
}
const always: Draw = () => [0, 0];
const never: Draw = () => [0.99, 0];

/** A person who judges all that comes until nothing is left. */
function judgeAll(count: number, draw: Draw): readonly Judgement[] {
  const judged: Judgement[] = [];
  const open = Array.from({ length: count }, (_, i) => `f${i}`);
  for (let next = nextToJudge(judged, open, draw); next; next = nextToJudge(judged, open, draw)) {
    if ('unjudged' in next) open.splice(open.indexOf(next.unjudged), 1);
    judged.push({ key: 'again' in next ? next.again : next.unjudged, isSecond: 'again' in next, mayComeAgain: true });
  }
  return judged;
}

describe('what is judged next', () => {
  it('is the best that is not judged, and nothing at the end', () => {
    expect(nextToJudge([], ['a', 'b'], never)).toEqual({ unjudged: 'a' });
    expect(nextToJudge([], [], never)).toBeUndefined();
  });

  it('comes to every flake once, and to about one in twenty twice', () => {
    const shares = Array.from({ length: 20 }, (_, seed) => judgeAll(400, drawOf(seed)).length / 400 - 1);
    const mean = shares.reduce((sum, share) => sum + share, 0) / shares.length;
    // 8,000 draws: the standard error of the share is 0.0024. Those drawn among the last few never come.
    expect(mean).toBeGreaterThan(secondShare - 0.008);
    expect(mean).toBeLessThan(secondShare + 0.008);
  });

  it('never comes again soon, and never a third time', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 1e6 }), fc.integer({ min: 0, max: 120 }), (seed, count) => {
        const judged = judgeAll(count, drawOf(seed));
        judged.forEach(({ key, isSecond }, at) => {
          const others = judged.flatMap((each, i) => (each.key === key && i !== at ? [i] : []));
          expect(others.length).toBeLessThanOrEqual(1);
          if (isSecond) expect(at - (others[0] ?? at) - 1).toBeGreaterThanOrEqual(leastBetween);
        });
        expect(judged.filter(({ isSecond }) => !isSecond).length).toBe(count);
        expect(judgeAll(count, drawOf(seed))).toEqual(judged);
      }),
      { numRuns: 60 },
    );
  });

  it('leaves out what may not come again and what was passed', () => {
    const judged: Judgement[] = Array.from({ length: 12 }, (_, i) => ({ key: `f${i}`, isSecond: false, mayComeAgain: i !== 0 }));
    expect(nextToJudge(judged, ['next'], always)).toEqual({ again: 'f1' });
    expect(nextToJudge(judged, ['next'], always, new Set(['f1']))).toEqual({ unjudged: 'next' });
  });

  it('comes at the end as soon as enough lies in between', () => {
    const late: Draw = () => [0, 0.999];
    const judged = (count: number): Judgement[] => Array.from({ length: count }, (_, i) => ({ key: `f${i}`, isSecond: false, mayComeAgain: true }));
    expect(nextToJudge(judged(11), ['next'], late)).toEqual({ unjudged: 'next' });
    expect(nextToJudge(judged(11), [], late)).toEqual({ again: 'f0' });
    expect(nextToJudge(judged(10), [], late)).toBeUndefined();
  });
});
