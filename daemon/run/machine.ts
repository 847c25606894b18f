import type { RunState } from '../records/types.ts';

/** One tile still to be taken: its index in the plan and the chip that it lies on. */
export interface TileToTake {
  readonly tile: number;
  readonly chip: string;
}

/** Flakes to be looked at again at high magnification once every tile is taken. */
export interface CloseUpPass {
  /** They are chosen when all flakes are known; `over`: none are wanted, or all is done that can be. */
  readonly stage: 'toChoose' | 'chosen' | 'over';
  /** In the order in which they are gone to. */
  readonly todo: readonly string[];
  readonly at: number;
  readonly skippedInARow: number;
}

/** What the run knows of itself. Nothing here refers to a device: the executor carries effects out and reports events back. */
export interface RunMachine {
  readonly phase: RunState;
  /** What was to be taken when the run was begun or resumed, in the order of the route. Never changed, so that a long plan is not copied. */
  readonly todo: readonly TileToTake[];
  /** Place of the present tile in `todo`; at its length when none is left. */
  readonly at: number;
  /** Chips whose focus surface has been measured since the run was begun or resumed. */
  readonly focused: readonly string[];
  /** Tries at the present tile, or at the focus of its chip, that have failed. */
  readonly failures: number;
  /** Tiles skipped in a row, to tell one bad place from a bad instrument. */
  readonly skippedInARow: number;
  readonly closeUps: CloseUpPass;
  /** What comes once the frames under way are recorded: a person's wish, trouble, or the end. */
  readonly after: Wish | null;
  /** Why the run is where it is: the code of the last trouble, or the person's wish. */
  readonly cause: string;
}

export interface Wish {
  readonly kind: 'pause' | 'park' | 'finish';
  readonly cause: string;
}

export type RunEvent =
  | { readonly type: 'begin' }
  | { readonly type: 'prepared' }
  | { readonly type: 'preparationFailed'; readonly code: string }
  | { readonly type: 'focusMapped'; readonly chip: string }
  | { readonly type: 'focusFailed'; readonly chip: string; readonly code: string }
  | { readonly type: 'queueFull' }
  | { readonly type: 'queueFree' }
  | { readonly type: 'tileTaken'; readonly tile: number }
  | { readonly type: 'tileFailed'; readonly tile: number; readonly code: string }
  | { readonly type: 'closeUpsChosen'; readonly flakes: readonly string[] }
  /** They could not be chosen, or the instrument could not be changed for them. */
  | { readonly type: 'closeUpsFailed'; readonly code: string }
  | { readonly type: 'closeUpTaken'; readonly flake: string }
  | { readonly type: 'closeUpFailed'; readonly flake: string; readonly code: string }
  /** The time for close-ups is used up. */
  | { readonly type: 'closeUpsOver' }
  /** `isReferencedAnew`: the axes were homed, and focus is measured once more before the next tile. */
  | { readonly type: 'recovered'; readonly isReferencedAnew?: boolean }
  | { readonly type: 'recoveryFailed'; readonly code: string }
  | { readonly type: 'recordsFailed'; readonly code: string }
  /** Tile after tile, nothing can be read from the frames. */
  | { readonly type: 'framesUseless'; readonly code: string }
  | { readonly type: 'drained' }
  | { readonly type: 'parked' }
  /** Nightjar itself failed while it carried an effect out. */
  | { readonly type: 'broke'; readonly code: string }
  | { readonly type: 'pauseAsked' }
  | { readonly type: 'goOnAsked' }
  | { readonly type: 'stopAsked' };

export type RunEffect =
  | { readonly type: 'prepare' }
  | { readonly type: 'mapFocus'; readonly chip: string }
  | { readonly type: 'takeTile'; readonly tile: number }
  | { readonly type: 'skipTiles'; readonly tiles: readonly number[]; readonly code: string }
  | { readonly type: 'chooseCloseUps' }
  | { readonly type: 'takeCloseUp'; readonly flake: string }
  | { readonly type: 'skipCloseUp'; readonly flake: string; readonly code: string }
  | { readonly type: 'recover'; readonly code: string; readonly attempt: number }
  | { readonly type: 'drain' }
  | { readonly type: 'park'; readonly code: string }
  | { readonly type: 'finish' };

export interface Step {
  readonly machine: RunMachine;
  readonly effects: readonly RunEffect[];
}

/** A tile is tried this often before it is skipped, a chip's focus before the run parks. */
export const triesPerTile = 3;
/** So many tiles skipped one after the other mean that the instrument is at fault, not the chip. */
export const skipsBeforeParking = 5;
/** Trouble that no retry mends: the run parks at once. A device that has gone is waited for (see `recover`). */
const parkAtOnce: ReadonlySet<string> = new Set(['closed', 'limit', 'unsafeHeight', 'tooFast', 'lampLimit']);
/** A device was away: when that does not end, it is no fault of the tile, which must not be skipped for it. */
const noFaultOfATile: ReadonlySet<string> = new Set(['disconnected', 'noAnswer', 'pipeEnded', 'positionLost', 'alarm']);
/** What a close-up meets where nothing more can be recorded. */
const cannotRecord: ReadonlySet<string> = new Set(['diskFull', 'writeFailed']);
/** Nothing is wrong with a device: the next close-up needs no recovery before it. */
const noFaultOfADevice: ReadonlySet<string> = new Set(['focusNotFound', 'classifierFailed', 'outOfFocus']);

/** A run before its first event. `todo` is what the plan wants less what the records hold already. */
export function newRun(todo: readonly TileToTake[], wantsCloseUps = false): RunMachine {
  const closeUps: CloseUpPass = { stage: wantsCloseUps ? 'toChoose' : 'over', todo: [], at: 0, skippedInARow: 0 };
  return { phase: 'preflight', todo, at: 0, focused: [], failures: 0, skippedInARow: 0, closeUps, after: null, cause: 'begun' };
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
      return goOn({ ...machine, phase: 'scanning', cause: 'prepared' });
    case 'preparationFailed':
      return park(machine, event.code);
    case 'focusMapped':
      return goOn({ ...backToScanning(machine), focused: [...machine.focused, event.chip], failures: 0 });
    case 'focusFailed':
      return focusFailed(machine, event.chip, event.code);
    case 'queueFull':
      return stay(machine.phase === 'scanning' ? { ...machine, phase: 'waiting', cause: 'classifierBehind' } : machine);
    case 'queueFree':
      return stay(machine.phase === 'waiting' ? { ...machine, phase: 'scanning', cause: 'classifierCaughtUp' } : machine);
    case 'tileTaken':
      if (presentTile(machine)?.tile !== event.tile) return stay(machine);
      return goOn({ ...backToScanning(machine), at: machine.at + 1, failures: 0, skippedInARow: 0 });
    case 'tileFailed':
      return tileFailed(machine, event.code);
    case 'closeUpsChosen':
      return goOn({ ...backToScanning(machine), closeUps: { stage: 'chosen', todo: event.flakes, at: 0, skippedInARow: 0 }, failures: 0 });
    case 'closeUpsFailed':
      return closeUpsFailed(machine, event.code);
    case 'closeUpTaken':
      if (presentCloseUp(machine) !== event.flake) return stay(machine);
      return goOn({ ...backToScanning(machine), closeUps: { ...machine.closeUps, at: machine.closeUps.at + 1, skippedInARow: 0 } });
    case 'closeUpFailed':
      return closeUpFailed(machine, event.flake, event.code);
    case 'closeUpsOver':
      return goOn(withoutCloseUps(machine));
    case 'recovered':
      return goOn({ ...backToScanning(machine), focused: event.isReferencedAnew ? [] : machine.focused });
    case 'recoveryFailed':
      return park(machine, event.code);
    case 'recordsFailed':
    case 'framesUseless':
      return wishToPark(machine, event.code);
    case 'drained':
      return drained(machine);
    case 'parked':
      return stay({ ...machine, phase: 'parked', after: null, cause: machine.after?.cause ?? machine.cause });
    case 'broke':
      return { machine: { ...machine, phase: 'failed', after: null, cause: event.code }, effects: [{ type: 'park', code: event.code }] };
    default:
      return asked(machine, event.type);
  }
}

function stay(machine: RunMachine): Step {
  return { machine, effects: [] };
}

function backToScanning(machine: RunMachine): RunMachine {
  return machine.phase === 'waiting' || machine.phase === 'recovering' ? { ...machine, phase: 'scanning' } : machine;
}

/** What comes next while nothing is wrong: the wish that waits, a chip's focus, the next tile, a close-up, or the end. */
function goOn(machine: RunMachine): Step {
  if (machine.after !== null) return { machine, effects: [{ type: 'drain' }] };
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
  return { ...backToScanning(machine), closeUps: { ...machine.closeUps, stage: 'over' }, failures: 0 };
}

/** Frames already taken are still classified and recorded; then the instrument is made safe. The first reason to park stays the reason. */
function park(machine: RunMachine, code: string): Step {
  const after: Wish = machine.after?.kind === 'park' ? machine.after : { kind: 'park', cause: code };
  return { machine: { ...machine, phase: 'recovering', after, cause: after.cause }, effects: [{ type: 'drain' }] };
}

/**
 * A chip that shows no focus is left out: a chip's tiles follow one another in the route, and those left of it are given up together.
 * But when it is the last one and none before it had focus, the fault lies elsewhere (lamp, height): the run parks.
 * Trouble with a device says nothing of the chip: its focus is tried again, and when that does not help, the instrument is at fault.
 */
function focusFailed(machine: RunMachine, chip: string, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  if (code !== 'focusNotFound') {
    const failures = machine.failures + 1;
    return parkAtOnce.has(code) || failures >= triesPerTile ? park(machine, code) : tryAgain(machine, failures, code);
  }
  let at = machine.at;
  while (machine.todo[at]?.chip === chip) at++;
  if (at === machine.todo.length && machine.focused.length === 0) return park(machine, code);
  const tiles = machine.todo.slice(machine.at, at).map((t) => t.tile);
  const next = goOn({ ...backToScanning(machine), at, failures: 0, cause: code });
  return { machine: next.machine, effects: [{ type: 'skipTiles', tiles, code }, ...next.effects] };
}

function tryAgain(machine: RunMachine, failures: number, code: string): Step {
  return { machine: { ...machine, phase: 'recovering', failures, cause: code }, effects: [{ type: 'recover', code, attempt: failures }] };
}

/** With a wish waiting, the tile is left for later: whoever stops a motion must not have the tile skipped for it. */
function tileFailed(machine: RunMachine, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  if (parkAtOnce.has(code)) return park(machine, code);
  const failures = machine.failures + 1;
  if (failures < triesPerTile) return tryAgain(machine, failures, code);
  if (noFaultOfATile.has(code)) return park(machine, code);
  const lost = presentTile(machine);
  const skipped = { ...backToScanning(machine), at: machine.at + 1, failures: 0, skippedInARow: machine.skippedInARow + 1, cause: code };
  const next = skipped.skippedInARow >= skipsBeforeParking ? park(skipped, code) : goOn(skipped);
  return { machine: next.machine, effects: [{ type: 'skipTiles', tiles: lost ? [lost.tile] : [], code }, ...next.effects] };
}

/** The night's own work is done by then: without close-ups it ends well all the same. */
function closeUpsFailed(machine: RunMachine, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  if (parkAtOnce.has(code)) return park(machine, code);
  const failures = machine.failures + 1;
  return failures < triesPerTile ? tryAgain(machine, failures, code) : goOn(withoutCloseUps({ ...machine, cause: code }));
}

/**
 * A close-up that fails is left out by name; it is not tried again, since another flake is worth the time as well. After several in a row
 * the rest is given up. With a wish waiting it is left for later, as a tile is.
 */
function closeUpFailed(machine: RunMachine, flake: string, code: string): Step {
  if (machine.after !== null) return goOn(machine);
  if (parkAtOnce.has(code) || cannotRecord.has(code)) return park(machine, code);
  const { closeUps } = machine;
  const skippedInARow = closeUps.skippedInARow + 1;
  const stage = skippedInARow >= skipsBeforeParking ? 'over' : closeUps.stage;
  const left: RunMachine = { ...machine, closeUps: { ...closeUps, stage, at: closeUps.at + 1, skippedInARow }, cause: code };
  const next = noFaultOfADevice.has(code) ? goOn(backToScanning(left)) : tryAgain(left, 1, code);
  return { machine: next.machine, effects: [{ type: 'skipCloseUp', flake, code }, ...next.effects] };
}

/** With no wish left (a pause taken back while draining), the run just goes on. */
function drained(machine: RunMachine): Step {
  const { after } = machine;
  switch (after?.kind) {
    case 'pause':
      return stay({ ...machine, phase: 'paused', after: null, cause: after.cause });
    case 'park':
      return { machine, effects: [{ type: 'park', code: after.cause }] };
    case 'finish':
      return { machine: { ...machine, phase: 'finished', after: null, cause: after.cause }, effects: [{ type: 'finish' }] };
    case undefined:
      return goOn(backToScanning(machine));
  }
}

/** A person's wishes. Pausing waits for the present tile; stopping also does, the executor halts the motion itself. */
function asked(machine: RunMachine, wish: 'pauseAsked' | 'goOnAsked' | 'stopAsked'): Step {
  switch (wish) {
    case 'pauseAsked':
      return stay(machine.after === null && machine.phase !== 'paused' ? { ...machine, after: { kind: 'pause', cause: 'pauseAsked' } } : machine);
    case 'goOnAsked':
      if (machine.phase !== 'paused') return stay(machine.after?.kind === 'pause' ? { ...machine, after: null } : machine);
      return goOn({ ...machine, phase: 'scanning', cause: 'goOnAsked' });
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
