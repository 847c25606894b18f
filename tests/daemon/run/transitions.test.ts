import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { newRun, step, type RunEvent, type TileToTake } from '../../../daemon/run/machine.ts';
import { policyFor } from '../../../daemon/run/policies.ts';
import { reasonWords } from '../../../daemon/run/sentences.ts';
import { drawingOf } from '../../nights/invariants.ts';

/** Protects: the run's states as DEVELOPERS.md draws them are those that the machine has, no arrow more or less. No outside truth. */

const todo: readonly TileToTake[] = [{ tile: 0, chip: 'A' }, { tile: 1, chip: 'B' }];

const codes = ['noFrame', 'disconnected', 'focusNotFound', 'limit', 'badReply', 'positionLost'];
const rare: readonly RunEvent[] = [{ type: 'stuck' }, { type: 'broke', code: 'internal' }, { type: 'pauseAsked' }, { type: 'goOnAsked' }, { type: 'stopAsked' }];
const well: readonly RunEvent[] = [
  { type: 'prepared' },
  { type: 'focusMapped', chip: 'A' },
  { type: 'focusMapped', chip: 'B' },
  { type: 'queueFull' },
  { type: 'queueFree' },
  { type: 'tileTaken', tile: 0 },
  { type: 'tileTaken', tile: 1 },
  { type: 'closeUpsChosen', flakes: ['f'] },
  { type: 'closeUpTaken', flake: 'f' },
  { type: 'closeUpsOver' },
  { type: 'recovered' },
  { type: 'drained' },
  { type: 'parked' },
  { type: 'finished' },
];
const badly: readonly RunEvent[] = codes.flatMap((code): readonly RunEvent[] => [
  { type: 'preparationFailed', code },
  { type: 'focusFailed', chip: 'A', code },
  { type: 'tileFailed', tile: 0, code },
  { type: 'closeUpFailed', flake: 'f', code },
  { type: 'recoveryFailed', code },
]);

/** What the executor would never send now: the answer of an activity that is not under way. */
function isAnswerOf(effect: string | undefined, { type }: RunEvent): boolean {
  switch (type) {
    case 'prepared':
    case 'preparationFailed':
      return effect === 'prepare';
    case 'focusMapped':
    case 'focusFailed':
      return effect === 'mapFocus';
    case 'tileTaken':
    case 'tileFailed':
    case 'queueFull':
    case 'queueFree':
      return effect === 'takeTile';
    case 'closeUpsChosen':
    case 'closeUpsFailed':
      return effect === 'chooseCloseUps';
    case 'closeUpTaken':
    case 'closeUpFailed':
    case 'closeUpsOver':
      return effect === 'takeCloseUp';
    case 'recovered':
    case 'recoveryFailed':
      return effect === 'recover';
    case 'drained':
      return effect === 'drain';
    case 'parked':
      return effect === 'park';
    case 'finished':
      return effect === 'finish';
    case 'stuck':
    case 'broke':
      return effect !== undefined;
    default:
      return true;
  }
}

/** What the machine asks for last of an event; what changes nothing leaves it under way. */
function underWayAfter(effects: readonly { readonly type: string }[], before: string | undefined, { type }: RunEvent): string | undefined {
  const isAside = ['queueFull', 'queueFree', 'pauseAsked', 'goOnAsked', 'stopAsked'].includes(type);
  return effects.at(-1)?.type ?? (isAside ? before : undefined);
}

/** Changes of state that a walk meets, as arrows: mostly things go well. */
function walk(chances: readonly number[]): readonly string[] {
  const arrows: string[] = [];
  let { machine, effects } = step(newRun(todo, true), { type: 'begin' });
  let underWay = effects.at(-1)?.type as string | undefined;
  for (const chance of chances) {
    const from = chance % 20 < 15 ? well : chance % 20 < 18 ? badly : rare;
    const fitting = from.filter((each) => isAnswerOf(underWay, each));
    const event = fitting[Math.floor(chance / 20) % Math.max(1, fitting.length)];
    if (!event) continue;
    const before = machine.phase;
    ({ machine, effects } = step(machine, event));
    underWay = underWayAfter(effects, underWay, event);
    if (machine.phase !== before) arrows.push(`${before} ${machine.phase}`);
  }
  return arrows;
}

describe('the states of a run', () => {
  it('are drawn as they are', () => {
    const met = new Set(fc.sample(fc.array(fc.nat(1e6), { minLength: 60, maxLength: 120 }), { numRuns: 5000, seed: 3 }).flatMap(walk));
    expect([...met].sort()).toEqual([...drawingOf(readFileSync('DEVELOPERS.md', 'utf8'))].sort());
  });
});

describe('the policies', () => {
  it('never try without a bound, and have words for whatever ends a night', () => {
    for (const each of ['closed', 'limit', 'unsafeHeight', 'tooFast', 'lampLimit', 'diskFull', 'writeFailed', 'noProgress', 'lampFaded']) {
      expect(policyFor(each)).toEqual({ act: 'park' });
      expect(reasonWords(each), each).not.toBe(each);
    }
  });
});
