import { DriverError, type Clock, type FocusDrive, type MoveOptions } from '../../drivers/interfaces/index.ts';
import { randomStream } from '../random.ts';
import { Carriage, withPlay } from './carriage.ts';
import type { Faults } from './faults.ts';
import { Visits } from './visits.ts';

export interface FocusBehaviour {
  readonly zMinUm: number;
  readonly zMaxUm: number;
  readonly startAtUm: number;
  readonly speedUmPerS: number;
  readonly accelerationUmPerS2: number;
  /** Play between drive and objective. */
  readonly hysteresisUm: number;
  readonly repeatabilityUm: number;
  /** The stand warms up: the objective sinks towards the chip by this much, two thirds of it in the first hour... */
  readonly warmUpUm: number;
  /** ...and by this much more every hour. */
  readonly driftUmPerH: number;
  /** Something gives way (a clamp, a draught): the objective sinks by this much at once... */
  readonly stepUm: number;
  /** ...this long after the start. */
  readonly stepAfterMs: number;
}

export const USUAL_FOCUS: FocusBehaviour = {
  zMinUm: 0,
  zMaxUm: 10_000,
  startAtUm: 8000,
  speedUmPerS: 500,
  accelerationUmPerS2: 10_000,
  hysteresisUm: 0.15,
  repeatabilityUm: 0.05,
  warmUpUm: 1,
  driftUmPerH: 0.4,
  stepUm: 0,
  stepAfterMs: 0,
};

export interface SimulatedFocus {
  readonly focus: FocusDrive;
  /** Where the objective truly is; for the simulated camera only. */
  trueUm(): number;
  /** Where its motor stands, whatever its line makes of that; for onlookers in tests only. */
  motorUm(): number;
  isMoving(): boolean;
}

const HOUR_MS = 3_600_000;

/** What the objective does that the drive's motor does not know of. */
class Objective {
  #drivenUm: number;
  #missUm = 0;
  readonly #startMs: number;
  readonly #seed: number;
  readonly #behaviour: FocusBehaviour;
  readonly #faults: Faults;
  readonly #visits = new Visits();

  constructor(seed: number, behaviour: FocusBehaviour, faults: Faults, nowMs: number) {
    this.#seed = seed;
    this.#faults = faults;
    this.#behaviour = behaviour;
    this.#drivenUm = behaviour.startAtUm;
    this.#startMs = nowMs;
  }

  follow(motorUm: number): number {
    this.#drivenUm = withPlay(this.#drivenUm, motorUm, this.#behaviour.hysteresisUm);
    return this.#drivenUm;
  }

  arrive(motorUm: number): void {
    this.follow(motorUm);
    const random = randomStream(this.#seed, this.#visits.next(motorUm.toFixed(2)), 'focus repeatability');
    this.#missUm = random.normal() * this.#behaviour.repeatabilityUm;
  }

  at(motorUm: number, nowMs: number): number {
    const hours = (nowMs - this.#startMs) / HOUR_MS;
    const { warmUpUm, driftUmPerH, stepUm, stepAfterMs } = this.#behaviour;
    const sunkUm = warmUpUm * (1 - Math.exp(-hours)) + driftUmPerH * hours + (nowMs - this.#startMs >= stepAfterMs ? stepUm : 0);
    return this.follow(motorUm) + this.#missUm - sunkUm - this.#faults.risenUm();
  }
}

class FocusDevice implements FocusDrive {
  readonly zMinUm: number;
  readonly zMaxUm: number;
  #isClosed = false;
  readonly #faults: Faults;
  readonly #behaviour: FocusBehaviour;
  readonly #carriage: Carriage;
  readonly #objective: Objective;

  constructor(faults: Faults, behaviour: FocusBehaviour, carriage: Carriage, objective: Objective) {
    this.zMinUm = behaviour.zMinUm;
    this.zMaxUm = behaviour.zMaxUm;
    this.#faults = faults;
    this.#behaviour = behaviour;
    this.#carriage = carriage;
    this.#objective = objective;
  }

  async position(): Promise<number> {
    this.#check();
    return this.#reported();
  }

  async moveTo(zUm: number, { speedUmPerS, signal }: MoveOptions = {}): Promise<number> {
    this.#check();
    const { zMinUm, zMaxUm } = this;
    if (!(zUm >= zMinUm && zUm <= zMaxUm)) throw new DriverError('limit', { device: 'focus', zUm, zMinUm, zMaxUm });
    const maxSpeedUmPerS = Math.min(this.#behaviour.speedUmPerS, speedUmPerS ?? this.#behaviour.speedUmPerS);
    const fails = motorOf(this.#carriage) !== zUm && this.#faults.strikes('stallZ') ? ('stalled' as const) : undefined;
    try {
      await this.#carriage.ride([zUm], { maxSpeedUmPerS, accelerationUmPerS2: this.#behaviour.accelerationUmPerS2, signal, fails });
      this.#check();
    } finally {
      this.#objective.arrive(motorOf(this.#carriage));
    }
    return this.#reported();
  }

  async stop(): Promise<void> {
    this.#check();
    this.#carriage.stop();
  }

  async close(): Promise<void> {
    this.#carriage.stop();
    this.#isClosed = true;
  }

  #check(): void {
    if (this.#isClosed) throw new DriverError('closed', { device: 'focus' });
    if (this.#faults.isOn('unplug:focus')) this.#carriage.stop();
    this.#faults.checkLine('focus');
  }

  #reported(): number {
    return Math.round(motorOf(this.#carriage) * 100) / 100;
  }
}

function motorOf(carriage: Carriage): number {
  return carriage.now()[0] ?? Number.NaN;
}

/** A focus drive with limits, speed, a little hysteresis and a slow drift. It reports where its motor is. */
export function createSimulatedFocus(clock: Clock, seed: number, faults: Faults, behaviour: FocusBehaviour): SimulatedFocus {
  const carriage = new Carriage(clock, 'focus', [behaviour.startAtUm]);
  const objective = new Objective(seed, behaviour, faults, clock.now());
  return { focus: new FocusDevice(faults, behaviour, carriage, objective), trueUm: () => objective.at(motorOf(carriage), clock.now()), motorUm: () => motorOf(carriage), isMoving: () => carriage.isMoving };
}
