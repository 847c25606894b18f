import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeStory } from '../../../../daemon/records/check/story.ts';
import type { RunState, TransitionRecord } from '../../../../daemon/records/types.ts';
import { hasEnded, newRun, step, type RunEvent, type RunMachine } from '../../../../daemon/run/machine.ts';

/** Protects: the check never calls a story wrong that the run's own machine can write, cut off anywhere and gone on with. A law of our own. */

const code = fc.constantFrom('stalled', 'noFrame', 'limit', 'disconnected', 'focusNotFound', 'diskFull');
const tile = fc.nat({ max: 3 });
const flake = fc.constantFrom('F-1', 'F-2');
const event: fc.Arbitrary<RunEvent> = fc.oneof(
  fc.record({ type: fc.constantFrom('prepared', 'queueFull', 'queueFree', 'closeUpsOver', 'recovered', 'drained', 'parked', 'pauseAsked', 'goOnAsked', 'stopAsked', 'stuck') }),
  fc.record({ type: fc.constantFrom('preparationFailed', 'closeUpsFailed', 'recoveryFailed', 'recordsFailed', 'framesUseless', 'broke'), code }),
  fc.record({ type: fc.constant('focusMapped' as const), chip: fc.constant('A') }),
  fc.record({ type: fc.constant('focusFailed' as const), chip: fc.constant('A'), code }),
  fc.record({ type: fc.constant('tileTaken' as const), tile }),
  fc.record({ type: fc.constant('tileFailed' as const), tile, code }),
  fc.record({ type: fc.constant('closeUpsChosen' as const), flakes: fc.array(flake) }),
  fc.record({ type: fc.constant('closeUpTaken' as const), flake }),
  fc.record({ type: fc.constant('closeUpFailed' as const), flake, code }),
);

/** One process of a night: its events, and what it writes down beside them, which older ones did not. It may end anywhere. */
const process = fc.record({ events: fc.array(event, { maxLength: 30 }), writesWaiting: fc.boolean(), writesResumed: fc.boolean(), isMarkedCutOff: fc.boolean() });

/** What the run's reporter writes of one process. */
function written(events: readonly RunEvent[], writesWaiting: boolean): { readonly story: TransitionRecord[]; readonly machine: RunMachine } {
  const todo = [0, 1, 2, 3].map((index) => ({ tile: index, chip: 'A' }));
  let { machine } = step(newRun(todo, true), { type: 'begin' });
  const story: TransitionRecord[] = [];
  for (const each of events) {
    const before = machine;
    ({ machine } = step(before, each));
    const waits = machine.phase === 'waiting' || (before.phase === 'waiting' && machine.phase === 'scanning');
    if (before.phase !== machine.phase && (writesWaiting || !waits)) story.push({ atMs: 0, state: machine.phase, cause: machine.cause });
  }
  return { story, machine };
}

describe('the story of a night', () => {
  it('is right for whatever the machine does, cut off and gone on with any number of times', () => {
    const seen = new Set<RunState>();
    fc.assert(
      fc.property(fc.array(process, { minLength: 1, maxLength: 5 }), (processes) => {
        const story: TransitionRecord[] = [{ atMs: 0, state: 'preflight', cause: 'begun' }];
        for (const { events, writesWaiting, writesResumed, isMarkedCutOff } of processes) {
          if (writesResumed && story.at(-1)?.state !== 'preflight') story.push({ atMs: 0, state: 'preflight', cause: 'resumed' });
          const { story: next, machine } = written(events, writesWaiting);
          story.push(...next);
          if (machine.phase === 'finished') break;
          if (!hasEnded(machine) && isMarkedCutOff) story.push({ atMs: 0, state: 'failed', cause: 'cutOff' });
        }
        for (const { state } of story) seen.add(state);
        const last = story.at(-1)?.state ?? 'preflight';
        expect(judgeStory('n', last, story)).toEqual([]);
      }),
      { numRuns: 3000 },
    );
    expect(seen.size).toBe(8);
  });

  it.each<[string, readonly RunState[], RunState]>([
    ['no story at all', [], 'preflight'],
    ['no beginning', ['scanning'], 'scanning'],
    ['another end', ['preflight', 'scanning'], 'finished'],
    ['finished before anything', ['preflight', 'finished'], 'finished'],
    ['on after the end', ['preflight', 'scanning', 'finished', 'paused'], 'paused'],
    ['parked, then finished', ['preflight', 'scanning', 'parked', 'finished'], 'finished'],
  ])('is wrong with %s', (_, states, state) => {
    expect(judgeStory('n', state, states.map((each) => ({ atMs: 0, state: each, cause: 'x' })))).not.toEqual([]);
  });
});
