import type { CloseUpPass, RunEffect, RunEvent, RunMachine, TileToTake, Wish } from './machineTypes.ts';
import { isWorthAnotherStart, noFaultOfADevice, policyFor } from './policies.ts';

export type { CloseUpPass, RunEffect, RunEvent, RunMachine, TileToTake, Wish } from './machineTypes.ts';

export interface Step {
  readonly machine: RunMachine;
  readonly effects: readonly RunEffect[];
}

/** A tile is tried this often before it is skipped, a chip's focus before the run parks. */
export const triesPerTile = 3;
/** So many tiles skipped one after the other mean that the instrument is at fault, not the chip. */
export const skipsBeforeParking = 5;
/** A run before its first event. `todo` is what the plan wants less what the records hold already. */
export function newRun(todo: readonly TileToTake[], wantsCloseUps = false): RunMachine {
  const closeUps: CloseUpPass = { stage: wantsCloseUps ? 'toChoose' : 'over', todo: [], at: 0, skippedInARow: 0 };
  return { phase: 'preflight', isPrepared: false, todo, at: 0, focused: [], lost: [], failures: 0, focusFailures: 0, skippedInARow: 0, closeUps, after: null, cause: 'begun' };
}

/** The flake that is being looked at again or comes next; undefined before the last tile and when none is left. */
export function presentCloseUp({ closeUps }: RunMachine): string | undefined {
  return closeUps.stage === 'chosen' ? closeUps.todo[closeUps.at] : undefined;
}

/** The tile that is being taken or comes next; undefined when none is left. */
export function presentTile(machine: RunMachine): TileToTake | undefined {
  return machine.todo[machine.at];
}

/** True when nothing more will happen by itself. */
export function hasEnded(machine: RunMachine): boolean {
  return machine.phase === 'finished' || machine.phase === 'failed' || machine.phase === 'parked';
}

/**
 * The run's state machine: state and event in, state and effects out. Pure. An event that means nothing in the present state leaves
 * it as it is, so that a late answer can never start a motion.
 */
export function step(machine: RunMachine, event: RunEvent): Step {
  if (hasEnded(machine)) return stay(machine);
  switch (event.type) {
    case 'begin':
      return machine.phase === 'preflight' ? { machine, effects: [{ type: 'prepare' }] } : stay(machine);
    case 'prepared':
      return goOn({ ...machine, phase: 'scanning', isPrepared: true, failures: 0, cause: 'prepared' });
    case 'preparationFailed':
      return preparationFailed(machine, event.code);
    case 'focusMapped':
      return goOn({ ...backToWork(machine), focused: [...machine.focused, event.chip], focusFailures: 0 });
    case 'focusFailed':
      return focusFailed(machine, event.chip, event.code);
    case 'queueFull':
      return stay(machine.phase === 'scanning' ? { ...machine, phase: 'waiting', cause: 'classifierBehind' } : machine);
    case 'queueFree':
      return stay(machine.phase === 'waiting' ? { ...machine, phase: 'scanning', cause: 'classifierCaughtUp' } : machine);
    case 'tileTaken':
      if (presentTile(machine)?.tile !== event.tile) return stay(machine);
      return goOn({ ...backToWork(machine), at: machine.at + 1, failures: 0, skippedInARow: 0 });
    case 'tileFailed':
      return tileFailed(machine, event.code);
    case 'closeUpsChosen':
    case 'closeUpsFailed':
    case 'closeUpTaken':
    case 'closeUpFailed':
    case 'closeUpsOver':
      return closeUpStep(machine, event);
    case 'recovered':
      return goOn({ ...backToWork(machine), focused: event.isReferencedAnew ? [] : machine.focused });
    case 'recoveryFailed':
      return park(machine, event.code);
    case 'recordsFailed':
    case 'framesUseless':
      return wishToPark(machine, event.code);
    case 'stuck':
      return stuck(machine);
    case 'drained':
      return drained(machine);
    case 'parked':
      return stay({ ...machine, phase: 'parked', after: null, cause: machine.after?.cause ?? machine.cause });
    case 'finished':
      return stay({ ...machine, phase: 'finished', after: null, cause: 'done' });
    case 'broke':
      return { machine: { ...machine, phase: 'failed', after: null, cause: event.code }, effects: [{ type: 'park', code: event.code }] };
    default:
      return asked(machine, event.type);
  }
}

function stay(machine: RunMachine): Step {
  return { machine, effects: [] };
}

/** After a wait or a recovery: on with what it interrupted. */
function backToWork(machine: RunMachine): RunMachine {
  if (machine.after?.kind === 'park' && machine.phase === 'recovering') return machine;
  const phase = machine.isPrepared ? 'scanning' : 'preflight';
  return machine.phase === 'waiting' || machine.phase === 'recovering' ? { ...machine, phase } : machine;
}

/** What comes next while nothing is wrong: the wish that waits, a chip's focus, the next tile, a close-up, or the end. */
function goOn(machine: RunMachine): Step {
  if (machine.after !== null) return { machine, effects: [{ type: 'drain' }] };
  if (machine.phase === 'preflight') return { machine, effects: [{ type: 'prepare' }] };
  if (machine.phase !== 'scanning') return stay(machine);
  const next = presentTile(machine);
  if (!next) return closeUpOrEnd(machine);
  if (!machine.focused.includes(next.chip)) return { machine, effects: [{ type: 'mapFocus', chip: next.chip }] };
  return { machine, effects: [{ type: 'takeTile', tile: next.tile }] };
}

/** After the last tile. */
function closeUpOrEnd(machine: RunMachine): Step {
  if (machine.closeUps.stage === 'toChoose') return { machine, effects: [{ type: 'chooseCloseUps' }] };
  const flake = presentCloseUp(machine);
  if (flake !== undefined) return { machine, effects: [{ type: 'takeCloseUp', flake }] };
  return { machine: { ...machine, after: { kind: 'finish', cause: 'done' } }, effects: [{ type: 'drain' }] };
}

function withoutCloseUps(machine: RunMachine): RunMachine {
  return { ...backToWork(machine), closeUps: { ...machine.closeUps, stage: 'over' }, failures: 0 };
}

/** Frames already taken are still classified and recorded; then the instrument is made safe. The first reason to park stays the reason. */
function park(machine: RunMachine, code: string): Step {
  const after: Wish = machine.after?.kind === 'park' ? machine.after : { kind: 'park', cause: code };
  return { machine: { ...machine, phase: 'recovering', after, cause: after.cause }, effects: [{ type: 'drain' }] };
}

/** Before the first move: what passes by itself is tried again, all else parks at once, for somebody is still there to mend it. */
function preparationFailed(machine: RunMachine, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  const failures = machine.failures + 1;
  return isWorthAnotherStart(code) && failures < triesPerTile ? tryAgain({ ...machine, failures }, failures, code) : park(machine, code);
}

/** Nothing waits for what hangs: frames under way are given up, and their tiles are still to be taken. What hangs while it parks has failed. */
function stuck(machine: RunMachine): Step {
  const cause = 'noProgress';
  if (machine.cause === cause) return stay({ ...machine, phase: 'failed', after: null });
  return { machine: { ...machine, phase: 'recovering', after: { kind: 'park', cause }, cause }, effects: [{ type: 'park', code: cause }] };
}

/**
 * A chip that shows no focus is left out: a chip's tiles follow one another in the route, and those left of it are given up together.
 * But when it is the last one and neither it nor any before it had focus, the fault lies elsewhere (lamp, height): the run parks.
 * Trouble with a device says nothing of the chip: its focus is tried again, and when that does not help, the instrument is at fault.
 */
function focusFailed(machine: RunMachine, chip: string, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  if (code !== 'focusNotFound') {
    const focusFailures = machine.focusFailures + 1;
    return policyFor(code).act === 'park' || focusFailures >= triesPerTile ? park(machine, code) : tryAgain({ ...machine, focusFailures }, focusFailures, code);
  }
  let at = machine.at;
  while (machine.todo[at]?.chip === chip) at++;
  if (at === machine.todo.length && machine.focused.length === 0 && !machine.lost.includes(chip)) return park(machine, code);
  const tiles = machine.todo.slice(machine.at, at).map((t) => t.tile);
  const next = goOn({ ...backToWork(machine), at, failures: 0, focusFailures: 0, cause: code });
  return { machine: next.machine, effects: [{ type: 'skipTiles', tiles, code }, ...next.effects] };
}

/** The count of failures is the caller's, who knows what failed. */
function tryAgain(machine: RunMachine, attempt: number, code: string): Step {
  return { machine: { ...machine, phase: 'recovering', cause: code }, effects: [{ type: 'recover', code, attempt }] };
}

/** With a wish waiting, the tile is left for later: whoever stops a motion must not have the tile skipped for it. */
function tileFailed(machine: RunMachine, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  const policy = policyFor(code);
  if (policy.act === 'park') return park(machine, code);
  const failures = machine.failures + 1;
  const known = code === 'focusLost' ? withoutFocus(machine) : machine;
  if (failures < triesPerTile) return tryAgain({ ...known, failures }, failures, code);
  if (policy.then === 'park') return park(machine, code);
  const lost = presentTile(machine);
  const skipped = { ...backToWork(known), at: machine.at + 1, failures: 0, skippedInARow: machine.skippedInARow + 1, cause: code };
  const next = skipped.skippedInARow >= skipsBeforeParking ? park(skipped, code) : goOn(skipped);
  return { machine: next.machine, effects: [{ type: 'skipTiles', tiles: lost ? [lost.tile] : [], code }, ...next.effects] };
}

/** The present chip's focus is measured anew before its next tile. */
function withoutFocus(machine: RunMachine): RunMachine {
  const chip = presentTile(machine)?.chip ?? '';
  return { ...machine, focused: machine.focused.filter((name) => name !== chip), lost: machine.lost.includes(chip) ? machine.lost : [...machine.lost, chip] };
}

/** Events of the second pass. */
function closeUpStep(machine: RunMachine, event: Extract<RunEvent, { readonly type: `closeUp${string}` }>): Step {
  switch (event.type) {
    case 'closeUpsChosen':
      return goOn({ ...backToWork(machine), closeUps: { stage: 'chosen', todo: event.flakes, at: 0, skippedInARow: 0 }, failures: 0 });
    case 'closeUpsFailed':
      return closeUpsFailed(machine, event.code);
    case 'closeUpTaken':
      if (presentCloseUp(machine) !== event.flake) return stay(machine);
      return goOn({ ...backToWork(machine), closeUps: { ...machine.closeUps, at: machine.closeUps.at + 1, skippedInARow: 0 } });
    case 'closeUpFailed':
      return closeUpFailed(machine, event.flake, event.code);
    case 'closeUpsOver':
      return goOn(withoutCloseUps(machine));
  }
}

/** The night's own work is done by then: without close-ups it ends well all the same. */
function closeUpsFailed(machine: RunMachine, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  if (policyFor(code).act === 'park') return park(machine, code);
  const failures = machine.failures + 1;
  return failures < triesPerTile ? tryAgain({ ...machine, failures }, failures, code) : goOn(withoutCloseUps({ ...machine, cause: code }));
}

/**
 * A close-up that fails is left out by name; it is not tried again, since another flake is worth the time as well. After several in a row
 * the rest is given up. With a wish waiting it is left for later, as a tile is.
 */
function closeUpFailed(machine: RunMachine, flake: string, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  if (policyFor(code).act === 'park') return park(machine, code);
  const { closeUps } = machine;
  const skippedInARow = closeUps.skippedInARow + 1;
  const stage = skippedInARow >= skipsBeforeParking ? 'over' : closeUps.stage;
  const left: RunMachine = { ...machine, closeUps: { ...closeUps, stage, at: closeUps.at + 1, skippedInARow }, cause: code };
  const next = noFaultOfADevice.has(code) ? goOn(backToWork(left)) : tryAgain(left, 1, code);
  return { machine: next.machine, effects: [{ type: 'skipCloseUp', flake, code }, ...next.effects] };
}

/** With no wish left (a pause taken back while draining), the run just goes on. */
function drained(machine: RunMachine): Step {
  const { after } = machine;
  switch (after?.kind) {
    case 'pause':
      return stay({ ...machine, phase: 'paused', after: null, cause: after.cause });
    case 'park':
      return { machine: { ...machine, phase: 'recovering', cause: after.cause }, effects: [{ type: 'park', code: after.cause }] };
    case 'finish':
      return { machine, effects: [{ type: 'finish' }] };
    case undefined:
      return goOn(backToWork(machine));
  }
}

/** A person's wishes. Pausing waits for the present tile; stopping also does, the executor halts the motion itself. */
function asked(machine: RunMachine, wish: 'pauseAsked' | 'goOnAsked' | 'stopAsked'): Step {
  switch (wish) {
    case 'pauseAsked':
      return stay(machine.after === null && machine.phase !== 'paused' ? { ...machine, after: { kind: 'pause', cause: 'pauseAsked' } } : machine);
    case 'goOnAsked':
      if (machine.phase !== 'paused') return stay(machine.after?.kind === 'pause' ? { ...machine, after: null } : machine);
      return goOn({ ...machine, phase: machine.isPrepared ? 'scanning' : 'preflight', cause: 'goOnAsked' });
    case 'stopAsked':
      return wishToPark(machine, 'stopAsked');
  }
}

/** Parks as soon as the present activity ends, for the first reason that there was; while paused there is none, so the drain begins at once. */
function wishToPark(machine: RunMachine, cause: string): Step {
  if (machine.after?.kind === 'park') return stay(machine);
  const wished: RunMachine = { ...machine, after: { kind: 'park', cause } };
  return machine.phase === 'paused' ? { machine: { ...wished, phase: 'recovering', cause }, effects: [{ type: 'drain' }] } : stay(wished);
}
