import { DriverError } from '../../drivers/interfaces/index.ts';
import type { Recovered } from './recover.ts';
import { hasEnded, step, type RunEffect, type RunEvent, type RunMachine } from './machine.ts';
import type { Watchdog } from './watchdog.ts';

/** What the run does in the world. Each resolves when done and rejects with an error whose code the machine decides on. */
export interface Activities {
  prepare(signal: AbortSignal): Promise<void>;
  mapFocus(chip: string, signal: AbortSignal): Promise<void>;
  takeTile(tile: number, signal: AbortSignal): Promise<void>;
  skipTiles(tiles: readonly number[], code: string): Promise<void>;
  /** Which flakes to look at again, in order; the instrument is ready for it afterwards. */
  chooseCloseUps(signal: AbortSignal): Promise<readonly string[]>;
  /** Resolves with false when the time for close-ups is used up: then nothing was done. */
  takeCloseUp(flake: string, signal: AbortSignal): Promise<boolean>;
  skipCloseUp(flake: string, code: string): Promise<void>;
  recover(code: string, attempt: number, signal: AbortSignal): Promise<Recovered>;
  drain(): Promise<void>;
  park(code: string): Promise<void>;
  finish(): Promise<void>;
  /** Halts all motion at once. */
  halt(): Promise<void>;
  /** Told of every step of the machine, before its effects are carried out. */
  stepped(before: RunMachine, after: RunMachine, event: RunEvent): void;
  /** An error as a code. */
  codeOf(error: unknown): string;
}

/** Carries the machine's effects out, one after the other, and feeds what became of them back in. What hangs is given up. */
export class RunExecutor {
  private machine: RunMachine;
  private readonly activities: Activities;
  private readonly watchdog: Watchdog;
  private readonly effects: RunEffect[] = [];
  private readonly ended: Promise<RunMachine>;
  private resolveEnded: (machine: RunMachine) => void = () => undefined;
  private rejectEnded: (error: unknown) => void = () => undefined;
  private busy = false;
  private motion = new AbortController();

  constructor(machine: RunMachine, activities: Activities, watchdog: Watchdog) {
    this.watchdog = watchdog;
    this.machine = machine;
    this.activities = activities;
    this.ended = new Promise((resolve, reject) => {
      this.resolveEnded = resolve;
      this.rejectEnded = reject;
    });
  }

  get state(): RunMachine {
    return this.machine;
  }

  /** Begins the run; resolves when it has finished, failed or parked. */
  async run(): Promise<RunMachine> {
    this.send({ type: 'begin' });
    return this.ended;
  }

  /** Puts an event in: a person's wish, or trouble from the records. */
  send(event: RunEvent): void {
    this.take(event);
    if (!this.busy) void this.carryOut().catch((error: unknown) => this.rejectEnded(error));
  }

  /** Halts the motion at once, then parks. A convenience, not a safety device. */
  async stop(): Promise<void> {
    this.send({ type: 'stopAsked' });
    this.motion.abort(new DriverError('stopped', { device: 'run' }));
    await this.activities.halt();
  }

  private async carryOut(): Promise<void> {
    this.busy = true;
    for (let effect = this.effects.shift(); effect; effect = this.effects.shift()) {
      const event = await this.outcomeOrStuck(effect);
      if (event) this.take(event);
    }
    this.busy = false;
    if (hasEnded(this.machine)) this.resolveEnded(this.machine);
  }

  /** Under the watchdog. What becomes later of an effect that was given up is met by nobody; its motion is aborted, so that it moves nothing any more. */
  private async outcomeOrStuck(effect: RunEffect): Promise<RunEvent | undefined> {
    const ended = new AbortController();
    const stuck = this.watchdog.untilStuck(ended.signal).then((): RunEvent => ({ type: 'stuck' }));
    try {
      const event = await Promise.race([this.outcomeOrBroken(effect), stuck]);
      if (event?.type === 'stuck') this.motion.abort(new DriverError('stopped', { device: 'run' }));
      return event;
    } finally {
      ended.abort();
    }
  }

  /** An activity that fails in a way nobody foresaw ends the night, but the instrument is made safe first. */
  private async outcomeOrBroken(effect: RunEffect): Promise<RunEvent | undefined> {
    try {
      return await this.outcomeOf(effect);
    } catch (error) {
      if (hasEnded(this.machine)) throw error;
      return { type: 'broke', code: this.activities.codeOf(error) };
    }
  }

  private take(event: RunEvent): void {
    const before = this.machine;
    const next = step(before, event);
    this.machine = next.machine;
    this.effects.push(...next.effects);
    this.activities.stepped(before, next.machine, event);
  }

  private async outcomeOf(effect: RunEffect): Promise<RunEvent | undefined> {
    if (this.motion.signal.aborted) this.motion = new AbortController();
    const { signal } = this.motion;
    const { activities } = this;
    switch (effect.type) {
      case 'prepare':
        return this.ending(activities.prepare(signal), { type: 'prepared' }, (code) => ({ type: 'preparationFailed', code }));
      case 'mapFocus':
        return this.ending(activities.mapFocus(effect.chip, signal), { type: 'focusMapped', chip: effect.chip }, (code) => ({ type: 'focusFailed', chip: effect.chip, code }));
      case 'takeTile':
        return this.ending(activities.takeTile(effect.tile, signal), { type: 'tileTaken', tile: effect.tile }, (code) => ({ type: 'tileFailed', tile: effect.tile, code }));
      case 'chooseCloseUps':
      case 'takeCloseUp':
      case 'skipCloseUp':
        return this.closeUpOutcome(effect, signal);
      case 'recover':
        return this.recoveryOutcome(activities.recover(effect.code, effect.attempt, signal));
      case 'skipTiles':
        await activities.skipTiles(effect.tiles, effect.code);
        return undefined;
      case 'drain':
        await activities.drain();
        return { type: 'drained' };
      case 'park':
        await activities.park(effect.code);
        return { type: 'parked' };
      case 'finish':
        await activities.finish();
        return { type: 'finished' };
    }
  }

  private async recoveryOutcome(recovery: Promise<Recovered>): Promise<RunEvent> {
    try {
      return { type: 'recovered', ...(await recovery) };
    } catch (error) {
      return { type: 'recoveryFailed', code: this.activities.codeOf(error) };
    }
  }

  private async closeUpOutcome(effect: Extract<RunEffect, { readonly type: 'chooseCloseUps' | 'takeCloseUp' | 'skipCloseUp' }>, signal: AbortSignal): Promise<RunEvent | undefined> {
    const { activities } = this;
    try {
      switch (effect.type) {
        case 'chooseCloseUps':
          return { type: 'closeUpsChosen', flakes: await activities.chooseCloseUps(signal) };
        case 'takeCloseUp':
          return (await activities.takeCloseUp(effect.flake, signal)) ? { type: 'closeUpTaken', flake: effect.flake } : { type: 'closeUpsOver' };
        case 'skipCloseUp':
          await activities.skipCloseUp(effect.flake, effect.code);
          return undefined;
      }
    } catch (error) {
      if (effect.type === 'skipCloseUp') throw error;
      const code = activities.codeOf(error);
      return effect.type === 'chooseCloseUps' ? { type: 'closeUpsFailed', code } : { type: 'closeUpFailed', flake: effect.flake, code };
    }
  }

  private async ending(activity: Promise<void>, well: RunEvent, badly: (code: string) => RunEvent): Promise<RunEvent> {
    try {
      await activity;
      return well;
    } catch (error) {
      return badly(this.activities.codeOf(error));
    }
  }
}
