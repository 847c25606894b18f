import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeStory } from '../../../../daemon/records/check/story.ts';
import type { RunState, TransitionRecord } from '../../../../daemon/records/types.ts';
import { hasEnded, newRun, step, type RunEffect, type RunEvent, type RunMachine } from '../../../../daemon/run/machine.ts';

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
const turn = fc.record({ goesWell: fc.integer({ min: 0, max: 9 }).map((n) => n < 8), otherwise: event });
const process = fc.record({ turns: fc.array(turn, { maxLength: 60 }), writesWaiting: fc.boolean(), writesResumed: fc.boolean(), isMarkedCutOff: fc.boolean() });

interface Turn {
  readonly goesWell: boolean;
  readonly otherwise: RunEvent;
}

/** The answer to what was asked for last, when all goes well. */
function answerTo(effect: RunEffect | undefined): RunEvent | undefined {
  switch (effect?.type) {
    case 'prepare':
      return { type: 'prepared' };
    case 'mapFocus':
      return { type: 'focusMapped', chip: effect.chip };
    case 'takeTile':
      return { type: 'tileTaken', tile: effect.tile };
    case 'chooseCloseUps':
      return { type: 'closeUpsChosen', flakes: ['F-1'] };
    case 'takeCloseUp':
      return { type: 'closeUpTaken', flake: effect.flake };
    case 'recover':
      return { type: 'recovered' };
    case 'drain':
      return { type: 'drained' };
    case 'park':
      return { type: 'parked' };
    case 'finish':
      return { type: 'finished' };
    default:
      return undefined;
  }
}

/** What the run's reporter writes of one process. */
function written(turns: readonly Turn[], writesWaiting: boolean): { readonly story: TransitionRecord[]; readonly machine: RunMachine } {
  const todo = [0, 1, 2, 3].map((index) => ({ tile: index, chip: 'A' }));
  let { machine, effects } = step(newRun(todo, true), { type: 'begin' });
  let asked = effects.at(-1);
  const story: TransitionRecord[] = [];
  for (const { goesWell, otherwise } of turns) {
    const before = machine;
    ({ machine, effects } = step(before, (goesWell ? answerTo(asked) : undefined) ?? otherwise));
    asked = effects.at(-1) ?? asked;
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
        for (const { turns, writesWaiting, writesResumed, isMarkedCutOff } of processes) {
          if (writesResumed && story.at(-1)?.state !== 'preflight') story.push({ atMs: 0, state: 'preflight', cause: 'resumed' });
          const { story: next, machine } = written(turns, writesWaiting);
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
