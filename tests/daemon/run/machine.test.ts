import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { hasEnded, newRun, presentCloseUp, presentTile, skipsBeforeParking, step, triesPerTile, type RunEffect, type RunEvent, type RunMachine, type TileToTake } from '../../../daemon/run/machine.ts';

/** Protects: the run always ends, takes or names every tile exactly once, and never has two motions under way. No outside truth: these are laws of our own. */

const todo: readonly TileToTake[] = [0, 1, 2, 3, 4, 5].map((tile) => ({ tile, chip: tile < 3 ? 'A' : 'B' }));

const flakes = ['f1', 'f2', 'f3', 'f4', 'f5', 'f6', 'f7'];

interface Story {
  readonly taken: number[];
  readonly closeUps: string[];
  readonly closeUpsSkipped: string[];
  readonly skipped: number[];
  readonly machine: RunMachine;
  readonly mostAtOnce: number;
  readonly steps: number;
}

/** Plays a night: `chance` says how each activity ends, `wishes` what a person asks before which step. */
function play(chance: () => number, wishes: ReadonlyMap<number, RunEvent>): Story {
  let machine = newRun(todo, true);
  const queue: RunEffect[] = [];
  const taken: number[] = [];
  const skipped: number[] = [];
  const closeUps: string[] = [];
  const closeUpsSkipped: string[] = [];
  let mostAtOnce = 0;
  const put = (event: RunEvent): void => {
    const next = step(machine, event);
    machine = next.machine;
    queue.push(...next.effects);
    mostAtOnce = Math.max(mostAtOnce, queue.filter((effect) => effect.type !== 'skipTiles' && effect.type !== 'skipCloseUp').length);
  };
  put({ type: 'begin' });
  let steps = 0;
  for (; steps < 500 && !(hasEnded(machine) && queue.length === 0); steps++) {
    const wish = wishes.get(steps);
    if (wish) put(wish);
    const effect = queue.shift();
    if (!effect) {
      if (machine.phase !== 'paused') break;
      put({ type: 'goOnAsked' });
      continue;
    }
    if (effect.type === 'skipTiles') skipped.push(...effect.tiles);
    if (effect.type === 'skipCloseUp') closeUpsSkipped.push(effect.flake);
    const outcome = outcomeOf(effect, chance());
    if (outcome?.type === 'tileTaken') taken.push(outcome.tile);
    if (outcome?.type === 'closeUpTaken') closeUps.push(outcome.flake);
    if (outcome) put(outcome);
  }
  return { closeUps, closeUpsSkipped, taken, skipped, machine, mostAtOnce, steps };
}

function outcomeOf(effect: RunEffect, chance: number): RunEvent | undefined {
  switch (effect.type) {
    case 'prepare':
      return chance < 0.95 ? { type: 'prepared' } : { type: 'preparationFailed', code: 'timeout' };
    case 'mapFocus':
      return chance < 0.8 ? { type: 'focusMapped', chip: effect.chip } : { type: 'focusFailed', chip: effect.chip, code: 'focusNotFound' };
    case 'takeTile':
      return chance < 0.6 ? { type: 'tileTaken', tile: effect.tile } : { type: 'tileFailed', tile: effect.tile, code: chance < 0.97 ? 'noFrame' : 'disconnected' };
    case 'chooseCloseUps':
      return chance < 0.9 ? { type: 'closeUpsChosen', flakes } : { type: 'closeUpsFailed', code: 'timeout' };
    case 'takeCloseUp':
      if (chance > 0.95) return { type: 'closeUpsOver' };
      return chance < 0.6 ? { type: 'closeUpTaken', flake: effect.flake } : { type: 'closeUpFailed', flake: effect.flake, code: chance < 0.8 ? 'focusNotFound' : chance < 0.94 ? 'noFrame' : 'disconnected' };
    case 'recover':
      return chance < 0.9 ? { type: 'recovered' } : { type: 'recoveryFailed', code: 'stalled' };
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

const wish = fc.constantFrom<RunEvent>({ type: 'pauseAsked' }, { type: 'goOnAsked' }, { type: 'stopAsked' }, { type: 'recordsFailed', code: 'diskFull' }, { type: 'queueFull' }, { type: 'queueFree' });

describe('the run machine', () => {
  it('takes every tile in order when nothing goes wrong, mapping each chip once', () => {
    const story = play(() => 0, new Map());
    expect(story.taken).toEqual([0, 1, 2, 3, 4, 5]);
    expect(story.machine.phase).toBe('finished');
    expect(story.machine.focused).toEqual(['A', 'B']);
    expect(story.closeUps).toEqual(flakes);
  });

  it('asks for no close-ups where none are wanted', () => {
    const { machine } = step(newRun([]), { type: 'prepared' });
    expect(machine).toMatchObject({ after: { kind: 'finish' } });
  });

  it('leaves a close-up out by name when it fails, and gives the rest up after several in a row without ending badly', () => {
    let { machine } = step(step(newRun([], true), { type: 'prepared' }).machine, { type: 'closeUpsChosen', flakes });
    let effects: readonly RunEffect[] = [];
    for (let n = 0; n < skipsBeforeParking; n++) {
      const flake = presentCloseUp(machine) ?? '';
      ({ machine, effects } = step(machine, { type: 'closeUpFailed', flake, code: 'focusNotFound' }));
      expect(effects[0]).toEqual({ type: 'skipCloseUp', flake, code: 'focusNotFound' });
    }
    expect(effects.at(-1)).toEqual({ type: 'drain' });
    const ending = step(machine, { type: 'drained' });
    expect(ending.effects).toEqual([{ type: 'finish' }]);
    expect(step(ending.machine, { type: 'finished' }).machine.phase).toBe('finished');
  });

  it('recovers a device before the next close-up, and parks where nothing can be recorded', () => {
    const chosen = step(step(newRun([], true), { type: 'prepared' }).machine, { type: 'closeUpsChosen', flakes }).machine;
    const failed = step(chosen, { type: 'closeUpFailed', flake: 'f1', code: 'noFrame' });
    expect(failed.effects).toEqual([{ type: 'skipCloseUp', flake: 'f1', code: 'noFrame' }, { type: 'recover', code: 'noFrame', attempt: 1 }]);
    expect(step(failed.machine, { type: 'recovered' }).effects).toEqual([{ type: 'takeCloseUp', flake: 'f2' }]);
    const full = step(chosen, { type: 'closeUpFailed', flake: 'f1', code: 'diskFull' });
    expect(full.effects).toEqual([{ type: 'drain' }]);
    expect(step(full.machine, { type: 'drained' }).effects).toEqual([{ type: 'park', code: 'diskFull' }]);
  });

  it('leaves a close-up for later that a stop interrupted', () => {
    const chosen = step(step(newRun([], true), { type: 'prepared' }).machine, { type: 'closeUpsChosen', flakes }).machine;
    const stopped = step(step(chosen, { type: 'stopAsked' }).machine, { type: 'closeUpFailed', flake: 'f1', code: 'stopped' });
    expect(stopped.effects).toEqual([{ type: 'drain' }]);
    expect(presentCloseUp(stopped.machine)).toBe('f1');
  });

  it('ends by itself under any faults and wishes, with one activity at a time and no tile twice', () => {
    fc.assert(
      fc.property(fc.infiniteStream(fc.double({ min: 0, max: 1, noNaN: true })), fc.array(fc.tuple(fc.nat(60), wish), { maxLength: 12 }), (stream, asked) => {
        const story = play(() => stream.next().value ?? 0, new Map(asked));
        expect(hasEnded(story.machine)).toBe(true);
        expect(story.mostAtOnce).toBeLessThanOrEqual(1);
        const ended = [...story.taken, ...story.skipped].sort((a, b) => a - b);
        expect(new Set(ended).size).toBe(ended.length);
        // Close-ups come after the last tile, each once; none of them ever ends the night.
        const again = [...story.closeUps, ...story.closeUpsSkipped];
        expect(new Set(again).size).toBe(again.length);
        if (again.length > 0) expect(ended).toEqual([0, 1, 2, 3, 4, 5]);
        if (story.machine.phase === 'finished') expect(ended).toEqual([0, 1, 2, 3, 4, 5]);
      }),
      { numRuns: 500 },
    );
  });

  it('skips a tile by name after three tries, and parks after five skipped in a row', () => {
    let machine = step(step(newRun(todo.map((t) => ({ ...t, chip: 'A' }))), { type: 'prepared' }).machine, { type: 'focusMapped', chip: 'A' }).machine;
    let effects: readonly RunEffect[] = [];
    const fail = (): void => {
      ({ machine, effects } = step(machine, { type: 'tileFailed', tile: presentTile(machine)?.tile ?? -1, code: 'noFrame' }));
    };
    for (let n = 1; n < triesPerTile; n++) {
      fail();
      expect(effects).toEqual([{ type: 'recover', code: 'noFrame', attempt: n }]);
      machine = step(machine, { type: 'recovered' }).machine;
    }
    fail();
    expect(effects[0]).toEqual({ type: 'skipTiles', tiles: [0], code: 'noFrame' });
    for (let n = 1; n < skipsBeforeParking; n++) for (let tries = 0; tries < triesPerTile; tries++) fail();
    expect(effects.at(-1)).toEqual({ type: 'drain' });
    expect(step(machine, { type: 'drained' }).effects).toEqual([{ type: 'park', code: 'noFrame' }]);
  });

  it("tries a chip's focus again after trouble with a device, and parks after three tries with no tile given up", () => {
    let { machine } = step(newRun(todo), { type: 'prepared' });
    for (let n = 1; n < triesPerTile; n++) {
      const failed = step(machine, { type: 'focusFailed', chip: 'A', code: 'noFrame' });
      expect(failed.effects).toEqual([{ type: 'recover', code: 'noFrame', attempt: n }]);
      const again = step(failed.machine, { type: 'recovered' });
      expect(again.effects).toEqual([{ type: 'mapFocus', chip: 'A' }]);
      machine = again.machine;
    }
    const parking = step(machine, { type: 'focusFailed', chip: 'A', code: 'noFrame' });
    expect(parking.effects).toEqual([{ type: 'drain' }]);
    expect(presentTile(parking.machine)?.tile).toBe(0);
    expect(parking.machine.cause).toBe('noFrame');
  });

  it('counts the tries at a tile and those at its focus apart', () => {
    let { machine } = step(newRun(todo), { type: 'prepared' });
    for (const event of [{ type: 'focusFailed', chip: 'A', code: 'noFrame' }, { type: 'recovered' }, { type: 'focusMapped', chip: 'A' }] as const) ({ machine } = step(machine, event));
    expect(machine).toMatchObject({ failures: 0, focusFailures: 0 });
  });

  it('gives a tile up at which the axes are lost again and again, though focus is found after each homing', () => {
    let machine = step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'focusMapped', chip: 'A' }).machine;
    const again = [{ type: 'tileFailed', tile: 0, code: 'alarm' }, { type: 'recovered', isReferencedAnew: true }, { type: 'focusMapped', chip: 'A' }] as const;
    for (let n = 1; n < triesPerTile; n++) for (const event of again) ({ machine } = step(machine, event));
    expect(step(machine, again[0]).effects).toEqual([{ type: 'drain' }]);
  });

  it('tries to make ready again after what passes by itself, and says all else at once', () => {
    const begun = newRun(todo);
    const garbled = step(begun, { type: 'preparationFailed', code: 'badReply' });
    expect(garbled.effects).toEqual([{ type: 'recover', code: 'badReply', attempt: 1 }]);
    const again = step(garbled.machine, { type: 'recovered' });
    expect(again.machine.phase).toBe('preflight');
    expect(again.effects).toEqual([{ type: 'prepare' }]);
    const second = step(step(again.machine, { type: 'preparationFailed', code: 'badReply' }).machine, { type: 'recovered' });
    expect(step(second.machine, { type: 'preparationFailed', code: 'badReply' }).effects).toEqual([{ type: 'drain' }]);
    for (const code of ['positionLost', 'disconnected', 'notLinear', 'diskFull']) expect(step(begun, { type: 'preparationFailed', code }).effects).toEqual([{ type: 'drain' }]);
  });

  it('gives up what is stuck without waiting for it, and has failed when it is stuck on the way to safety', () => {
    const scanning = step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'focusMapped', chip: 'A' }).machine;
    const given = step(scanning, { type: 'stuck' });
    expect(given.effects).toEqual([{ type: 'park', code: 'noProgress' }]);
    expect(step(given.machine, { type: 'parked' }).machine).toMatchObject({ phase: 'parked', cause: 'noProgress' });
    expect(step(given.machine, { type: 'stuck' })).toMatchObject({ machine: { phase: 'failed', cause: 'noProgress' }, effects: [] });
  });

  it('maps a chip anew that has lost focus in mid-scan, three times at one tile at most, and leaves out the last one too when it has none any more', () => {
    let { machine } = step(newRun([{ tile: 0, chip: 'A' }, { tile: 1, chip: 'A' }]), { type: 'prepared' });
    ({ machine } = step(machine, { type: 'focusMapped', chip: 'A' }));
    const lost = { type: 'tileFailed', tile: 0, code: 'focusLost' } as const;
    for (const attempt of [1, 2]) {
      const failed = step(machine, lost);
      expect(failed.effects).toEqual([{ type: 'recover', code: 'focusLost', attempt }]);
      const recovered = step(failed.machine, { type: 'recovered' });
      expect(recovered.effects).toEqual([{ type: 'mapFocus', chip: 'A' }]);
      if (attempt === 1) expect(step(recovered.machine, { type: 'focusFailed', chip: 'A', code: 'focusNotFound' }).effects[0]).toEqual({ type: 'skipTiles', tiles: [0, 1], code: 'focusNotFound' });
      ({ machine } = step(recovered.machine, { type: 'focusMapped', chip: 'A' }));
    }
    expect(step(machine, lost).effects).toEqual([{ type: 'skipTiles', tiles: [0], code: 'focusLost' }, { type: 'mapFocus', chip: 'A' }]);
  });

  it('leaves a chip without focus out, but parks when it is the last and none before it had any', () => {
    const first = step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'focusFailed', chip: 'A', code: 'focusNotFound' });
    expect(first.effects).toEqual([{ type: 'skipTiles', tiles: [0, 1, 2], code: 'focusNotFound' }, { type: 'mapFocus', chip: 'B' }]);
    const second = step(first.machine, { type: 'focusFailed', chip: 'B', code: 'focusNotFound' });
    expect(second.effects).toEqual([{ type: 'drain' }]);
    expect(presentTile(second.machine)?.tile).toBe(3);
    const withA: RunMachine = { ...first.machine, focused: ['A'] };
    expect(step(withA, { type: 'focusFailed', chip: 'B', code: 'focusNotFound' }).effects).toEqual([{ type: 'skipTiles', tiles: [3, 4, 5], code: 'focusNotFound' }, { type: 'drain' }]);
  });

  it('parks when nothing can be read from the frames any more', () => {
    const scanning = step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'focusMapped', chip: 'A' }).machine;
    const told = step(scanning, { type: 'framesUseless', code: 'black' });
    expect(told.effects).toEqual([]);
    expect(step(told.machine, { type: 'tileTaken', tile: 0 }).effects).toEqual([{ type: 'drain' }]);
  });

  it('parks for the stop that was asked, not for what the stop interrupted', () => {
    const asked = step(newRun(todo), { type: 'stopAsked' }).machine;
    const parking = step(asked, { type: 'preparationFailed', code: 'stopped' }).machine;
    expect(step(parking, { type: 'drained' }).effects).toEqual([{ type: 'park', code: 'stopAsked' }]);
    const recovering = step(step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'focusFailed', chip: 'A', code: 'noFrame' }).machine, { type: 'stopAsked' }).machine;
    expect(step(recovering, { type: 'recoveryFailed', code: 'stopped' }).machine.cause).toBe('stopAsked');
  });

  it('waits for a device that has gone, and parks when it goes for the third time; the tile is not skipped for it', () => {
    let machine = step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'focusMapped', chip: 'A' }).machine;
    for (const attempt of [1, 2]) {
      const lost = step(machine, { type: 'tileFailed', tile: 0, code: 'disconnected' });
      expect(lost.effects).toEqual([{ type: 'recover', code: 'disconnected', attempt }]);
      const back = step(lost.machine, { type: 'recovered', isReferencedAnew: false });
      expect(back.effects).toEqual([{ type: 'takeTile', tile: 0 }]);
      ({ machine } = back);
    }
    const next = step(machine, { type: 'tileFailed', tile: 0, code: 'disconnected' });
    expect(next.effects).toEqual([{ type: 'drain' }]);
    expect(presentTile(next.machine)?.tile).toBe(0);
    expect(next.machine.cause).toBe('disconnected');
  });

  it('has focus measured once more after the axes were homed', () => {
    const scanning = step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'focusMapped', chip: 'A' }).machine;
    const lost = step(scanning, { type: 'tileFailed', tile: 0, code: 'positionLost' });
    const back = step(lost.machine, { type: 'recovered', isReferencedAnew: true });
    expect(back.effects).toEqual([{ type: 'mapFocus', chip: 'A' }]);
    expect(step(back.machine, { type: 'focusMapped', chip: 'A' }).effects).toEqual([{ type: 'takeTile', tile: 0 }]);
  });

  it('parks for the first reason that there was, whatever is said meanwhile', () => {
    const scanning = step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'focusMapped', chip: 'A' }).machine;
    let machine = step(scanning, { type: 'recordsFailed', code: 'diskFull' }).machine;
    for (const event of [{ type: 'queueFull' }, { type: 'queueFree' }, { type: 'stopAsked' }, { type: 'pauseAsked' }, { type: 'tileTaken', tile: 0 }] as const) machine = step(machine, event).machine;
    expect(step(machine, { type: 'drained' }).effects).toEqual([{ type: 'park', code: 'diskFull' }]);
    expect(step(machine, { type: 'parked' }).machine).toMatchObject({ phase: 'parked', cause: 'diskFull' });
  });

  it('fails, but makes the instrument safe, when an effect breaks', () => {
    const broken = step(step(newRun(todo), { type: 'prepared' }).machine, { type: 'broke', code: 'internal' });
    expect(broken.machine.phase).toBe('failed');
    expect(broken.effects).toEqual([{ type: 'park', code: 'internal' }]);
  });

  it('does nothing with events that come after the end', () => {
    const parked: RunMachine = { ...newRun(todo), phase: 'parked' };
    fc.assert(
      fc.property(wish, (event) => {
        expect(step(parked, event)).toEqual({ machine: parked, effects: [] });
      }),
    );
  });
});
