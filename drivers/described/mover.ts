import { DriverError, type Clock, type MoveOptions, type StageState } from '../interfaces/index.ts';
import type { Dialogue, Values } from './dialogue.ts';
import type { MoverPlan } from './plan.ts';
import { Ride } from './ride.ts';
import { numberText, roundedDown, toUnits } from './scale.ts';
import { watchStillness } from './stillness.ts';
import { Whereabouts } from './whereabouts.ts';

/** After a stop nothing may move for longer than this. */
const STOP_WITHIN_MS = 5000;
/** Some devices say that they stand still for a moment before they set out: only after this are they believed. */
const SETS_OUT_WITHIN_MS = 250;
const LEAST_LOOKS = 3;

interface Goal {
  readonly units: readonly number[];
  readonly untilMs: number;
  readonly epoch: number | undefined;
}

/** Anything that a description moves, on one axis or two: sets out, waits until it stands still, and sees that it has arrived. */
export class Mover {
  #isClosed = false;
  #ride: Ride | undefined;
  /** Epoch and speed as they were sent last. */
  #speedSet: string | undefined;
  readonly #plan: MoverPlan;
  readonly #dialogue: Dialogue;
  readonly #clock: Clock;
  readonly #whereabouts: Whereabouts;

  constructor(plan: MoverPlan, dialogue: Dialogue, clock: Clock) {
    this.#plan = plan;
    this.#dialogue = dialogue;
    this.#clock = clock;
    this.#whereabouts = new Whereabouts(plan, dialogue);
  }

  /** In our units, axis by axis. Rejects with `positionLost`, `disconnected`, `timeout`, `badReply`, `deviceError`, `closed`. */
  async place(): Promise<number[]> {
    this.#requireOpen();
    await this.#whereabouts.established();
    return this.#whereabouts.inOurs(await (this.#ride ? this.#whereabouts.units() : this.#whereabouts.atRest()));
  }

  async state(): Promise<StageState> {
    if (this.#isClosed) return 'closed';
    try {
      await this.#whereabouts.established();
      if (this.#plan.done.checks.length === 0) return this.#ride ? 'moving' : 'idle';
      return (await watchStillness(this.#plan, this.#dialogue, this.#whereabouts)()) === 'moving' ? 'moving' : 'idle';
    } catch (error) {
      if (error instanceof DriverError && (error.code === 'positionLost' || error.code === 'alarm')) return error.code;
      throw error;
    }
  }

  /** Resolves with where it stands. Rejects as `place`, and with `stopped`, `stalled`, `alarm`, `unsupported` (a speed, two moves at once). */
  async moveTo(target: readonly number[], { speedUmPerS, signal }: MoveOptions = {}): Promise<number[]> {
    return this.#carryOut(signal, async (ride) => {
      const speed = this.#speedText(speedUmPerS);
      const epoch = await this.#whereabouts.established();
      const from = await this.#whereabouts.atRest();
      ride.check();
      const goal = { ...this.#goal(target, from, speedUmPerS), epoch };
      ride.hasBegun = true;
      this.#whereabouts.leave();
      await this.#setSpeed(speed, speedUmPerS !== undefined, epoch);
      ride.check();
      const values = { ...this.#placeTexts(goal.units, from), ...(speed === undefined ? {} : { speed }) };
      await this.#dialogue.run(this.#plan.moveTo, { values, ...(epoch === undefined ? {} : { epoch }) });
      return this.#whereabouts.inOurs(await this.#arrival(ride, goal));
    });
  }

  async home(signal?: AbortSignal): Promise<void> {
    const { home, device } = this.#plan;
    this.#requireOpen();
    if (!home) throw new DriverError('unsupported', { device, what: 'homing: its description has no home' });
    await this.#carryOut(signal, async (ride) => {
      await this.#dialogue.connect();
      ride.check();
      ride.hasBegun = true;
      this.#whereabouts.leave();
      const { epoch } = this.#dialogue;
      const untilMs = this.#clock.now() + home.withinMs;
      await this.#dialogue.run(home.steps, { epoch });
      await this.#untilStill(untilMs, ride, epoch);
      this.#whereabouts.found(epoch);
      await this.#whereabouts.established();
    });
  }

  /** A person says that it stands at its reference place: the device is told, and believed from then on. Nothing moves. */
  async takeReference(): Promise<void> {
    this.#requireOpen();
    const { takeReference, device } = this.#plan;
    if (!takeReference) throw new DriverError('unsupported', { device, what: 'being told where it is: its description has no takeReference' });
    await this.#dialogue.connect();
    const { epoch } = this.#dialogue;
    await this.#dialogue.run(takeReference, { epoch });
    this.#whereabouts.found(epoch);
    await this.#whereabouts.established();
  }

  /** Resolves when it stands still. A convenience, not a safety device. */
  async stop(): Promise<void> {
    this.#requireOpen();
    const halting = this.#halt();
    if (this.#ride) {
      this.#ride.stopping = halting;
      halting.catch(() => undefined);
    }
    return halting;
  }

  /** Stops what is under way. */
  async close(): Promise<void> {
    if (this.#isClosed) return;
    const stopping = this.#ride && this.#plan.stop.length > 0 ? this.stop() : undefined;
    this.#isClosed = true;
    await stopping?.catch(() => undefined);
  }

  async #carryOut<T>(signal: AbortSignal | undefined, work: (ride: Ride) => Promise<T>): Promise<T> {
    this.#requireOpen();
    const { device } = this.#plan;
    if (this.#ride) throw new DriverError('unsupported', { device, what: 'two moves at once' });
    const ride = new Ride(device);
    if (signal?.aborted) throw ride.stopped();
    this.#ride = ride;
    const onAbort = (): void => void this.stop().catch(() => undefined);
    signal?.addEventListener('abort', onAbort, { once: true });
    try {
      return await work(ride);
    } catch (error) {
      if (ride.hasBegun) this.#whereabouts.doubt();
      if (!ride.stopping && ride.hasBegun) await this.#haltAfter(error);
      throw await ride.reason(error);
    } finally {
      signal?.removeEventListener('abort', onAbort);
      this.#ride = undefined;
    }
  }

  /** What failed may still be moving. Where the line itself is gone, whoever opens it next must see to that. */
  async #haltAfter(error: unknown): Promise<void> {
    const isGone = error instanceof DriverError && (error.code === 'disconnected' || error.code === 'closed');
    if (!isGone && this.#plan.stop.length > 0) await this.#halt().catch(() => undefined);
  }

  async #halt(): Promise<void> {
    await this.#dialogue.urgent(this.#plan.stop);
    await this.#untilStill(this.#clock.now() + STOP_WITHIN_MS);
  }

  async #untilStill(untilMs: number, ride?: Ride, epoch?: number): Promise<void> {
    const look = watchStillness(this.#plan, this.#dialogue, this.#whereabouts, epoch);
    while ((await look()) === 'moving') {
      if (this.#clock.now() > untilMs) throw new DriverError('timeout', { device: this.#plan.device, what: 'it still moves' });
      await this.#clock.sleep(this.#plan.done.everyMs);
      ride?.check();
    }
  }

  async #arrival(ride: Ride, { units, untilMs, epoch }: Goal): Promise<readonly number[]> {
    const look = watchStillness(this.#plan, this.#dialogue, this.#whereabouts, epoch);
    let stillSinceMs: number | undefined;
    let looks = 0;
    for (;;) {
      await this.#clock.sleep(this.#plan.done.everyMs);
      ride.check();
      const isStill = (await look()) === 'still';
      ride.check();
      const nowMs = this.#clock.now();
      stillSinceMs = isStill ? (stillSinceMs ?? nowMs) : undefined;
      looks = isStill ? looks + 1 : 0;
      if (isStill) {
        const at = await this.#whereabouts.units(epoch);
        if (this.#whereabouts.isNear(at, units)) {
          this.#whereabouts.restAt(at);
          return at;
        }
        if (looks >= LEAST_LOOKS && nowMs - (stillSinceMs ?? nowMs) >= SETS_OUT_WITHIN_MS) throw this.#short(at, units);
      }
      if (nowMs > untilMs) throw new DriverError('timeout', { device: this.#plan.device, what: 'it has not arrived' });
    }
  }

  #short(at: readonly number[], goal: readonly number[]): DriverError {
    this.#whereabouts.standsShort(at);
    const { axes, device } = this.#plan;
    const places = [this.#whereabouts.inOurs(at), this.#whereabouts.inOurs(goal)].map((ours) => ours.map((value, axis) => `${axes[axis]?.name ?? ''} ${Number(value.toFixed(3))}`).join(' '));
    return new DriverError('stalled', { device, at: places[0] ?? '', asked: places[1] ?? '' });
  }

  #goal(target: readonly number[], from: readonly number[], speedUmPerS: number | undefined): Omit<Goal, 'epoch'> {
    const { axes, maxSpeedUmPerS, done } = this.#plan;
    const units = axes.map(({ scale }, axis) => toUnits(scale, target[axis] ?? Number.NaN));
    const wayUm = Math.hypot(...this.#whereabouts.inOurs(from).map((value, axis) => value - (target[axis] ?? value)));
    const speed = Math.min(speedUmPerS ?? Number.POSITIVE_INFINITY, maxSpeedUmPerS ?? Number.POSITIVE_INFINITY);
    return { units, untilMs: this.#clock.now() + done.withinMs + (1000 * wayUm) / speed };
  }

  #placeTexts(goal: readonly number[], from: readonly number[]): Values {
    const { axes, isRelative } = this.#plan;
    const entries = axes.map(({ name, scale }, axis): [string, string] => {
      const to = goal[axis] ?? Number.NaN;
      return isRelative ? [`d${name}`, numberText(to - (from[axis] ?? Number.NaN), scale)] : [name, numberText(to, scale)];
    });
    return Object.fromEntries(entries);
  }

  /** What the device is told; undefined where its speed cannot be set and need not be. */
  #speedText(askedUmPerS: number | undefined): string | undefined {
    const { device, maxSpeedUmPerS, speed } = this.#plan;
    if (maxSpeedUmPerS === undefined) return undefined;
    const refused = (what: string): DriverError => new DriverError('unsupported', { device, what, askedUmPerS: askedUmPerS ?? maxSpeedUmPerS, maxSpeedUmPerS });
    if (askedUmPerS !== undefined && !(askedUmPerS > 0)) throw refused('a speed that is none');
    const umPerS = Math.min(askedUmPerS ?? maxSpeedUmPerS, maxSpeedUmPerS);
    if (!speed && umPerS < maxSpeedUmPerS) throw refused('its description has no way to set a speed');
    if (!speed) return undefined;
    const units = roundedDown(umPerS * speed.unitsPerUmPerS, speed.format.decimals);
    if (!(units > 0)) throw refused('slower than it can be set to');
    return numberText(units, speed.format);
  }

  /** A limit that was asked for is sent each time: a device that has started anew unnoticed would else go at a speed of its own. */
  async #setSpeed(text: string | undefined, isLimit: boolean, epoch: number | undefined): Promise<void> {
    const steps = this.#plan.speed?.set ?? [];
    if (text === undefined || epoch === undefined || steps.length === 0) return;
    if (!isLimit && this.#speedSet === `${epoch} ${text}`) return;
    this.#speedSet = undefined;
    await this.#dialogue.run(steps, { values: { speed: text }, epoch });
    this.#speedSet = `${epoch} ${text}`;
  }

  #requireOpen(): void {
    if (this.#isClosed) throw new DriverError('closed', { device: this.#plan.device });
  }
}
