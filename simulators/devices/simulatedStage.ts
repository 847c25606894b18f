import { DriverError, type Clock, type MoveOptions, type Stage, type StageState } from '../../drivers/interfaces/index.ts';
import type { StageBox, StagePoint } from '../../planner/units/index.ts';
import { randomStream } from '../random.ts';
import { Carriage, withPlay } from './carriage.ts';
import type { Faults } from './faults.ts';
import { Visits } from './visits.ts';

export interface StageBehaviour {
  readonly travel: StageBox;
  readonly startAtUm: StagePoint;
  readonly maxSpeedUmPerS: number;
  readonly accelerationUmPerS2: number;
  /** Largest change of acceleration; none when left out. */
  readonly jerkUmPerS3?: number;
  /** After this time a move's shaking is over. */
  readonly settleMs: number;
  readonly backlashUm: number;
  /** The slack of the y axis, where it is another than that of x. */
  readonly backlashYUm?: number;
  /** How much further the sample truly goes than is reported, as a share: 0.002 is 2 um in a millimetre. Counted from the stage's zero. */
  readonly scaleErrorX?: number;
  readonly scaleErrorY?: number;
  /** The y axis leans towards +x by this much from the right angle. */
  readonly nonOrthogonalityMrad?: number;
  /** Where it truly comes to rest differs by about this much from one move to the next. */
  readonly repeatabilityUm: number;
  /** The stand warms up: the sample creeps aside by this much, two thirds of it in the first hour. None when left out. */
  readonly driftUm?: number;
}

export const USUAL_STAGE: StageBehaviour = {
  travel: { xMinUm: 0, xMaxUm: 75_000, yMinUm: 0, yMaxUm: 50_000 },
  startAtUm: { xUm: 10_000, yUm: 10_000 },
  maxSpeedUmPerS: 20_000,
  accelerationUmPerS2: 100_000,
  settleMs: 60,
  backlashUm: 12,
  repeatabilityUm: 1.2,
};

export interface SimulatedStage {
  readonly stage: Stage;
  /** Where the sample truly is under the objective; for the simulated camera only. */
  trueUm(): StagePoint;
  /** Where its motors stand, whatever its line makes of that; for onlookers in tests only. */
  motorUm(): StagePoint;
  isMoving(): boolean;
}

const HOUR_MS = 3_600_000;
const SHAKE_UM = 1.5;
const SHAKE_PERIOD_MS = 18;

/** What is left of a move's shaking this long after arrival: a decaying swing, below 0.3 % of its start after the settling time. */
function shakeUm(sinceMs: number, settleMs: number): number {
  if (settleMs <= 0) return 0;
  return SHAKE_UM * Math.exp((-6 * sinceMs) / settleMs) * Math.cos((2 * Math.PI * sinceMs) / SHAKE_PERIOD_MS);
}

function requireInside({ xMinUm, xMaxUm, yMinUm, yMaxUm }: StageBox, { xUm, yUm }: StagePoint): void {
  const isInside = xUm >= xMinUm && xUm <= xMaxUm && yUm >= yMinUm && yUm <= yMaxUm;
  if (!isInside) throw new DriverError('limit', { device: 'stage', xUm, yUm, xMinUm, xMaxUm, yMinUm, yMaxUm });
}

/** What the sample does that the controller does not know of. */
class Sample {
  #drivenUm: readonly [number, number];
  #missUm: readonly [number, number] = [0, 0];
  #arrivedAtMs: number;
  readonly #startMs: number;
  readonly #driftRad: number;
  readonly #visits = new Visits();
  readonly #seed: number;
  readonly #behaviour: StageBehaviour;

  constructor(seed: number, behaviour: StageBehaviour, nowMs: number) {
    this.#seed = seed;
    this.#behaviour = behaviour;
    this.#drivenUm = [behaviour.startAtUm.xUm, behaviour.startAtUm.yUm];
    this.#arrivedAtMs = nowMs - behaviour.settleMs;
    this.#startMs = nowMs;
    this.#driftRad = randomStream(seed, 'stage', 'drift').between(0, 2 * Math.PI);
  }

  /** Dragged along to where the carriage is. */
  follow([x = 0, y = 0]: readonly number[]): readonly [number, number] {
    const { backlashUm, backlashYUm = backlashUm } = this.#behaviour;
    this.#drivenUm = [withPlay(this.#drivenUm[0], x, backlashUm), withPlay(this.#drivenUm[1], y, backlashYUm)];
    return this.#drivenUm;
  }

  arrive({ xUm, yUm }: StagePoint, nowMs: number): void {
    const random = randomStream(this.#seed, this.#visits.next(`${xUm.toFixed(1)} ${yUm.toFixed(1)}`), 'stage repeatability');
    const miss = () => Math.max(-1.5, Math.min(1.5, random.normal() / 2)) * this.#behaviour.repeatabilityUm;
    this.#missUm = [miss(), miss()];
    this.#arrivedAtMs = nowMs;
  }

  at(carriage: readonly number[], nowMs: number): StagePoint {
    const [x, y] = this.#truly(this.follow(carriage));
    const shake = shakeUm(nowMs - this.#arrivedAtMs, this.#behaviour.settleMs);
    const [driftX, driftY] = this.#creptUm(nowMs);
    return { xUm: x + this.#missUm[0] + shake + driftX, yUm: y + this.#missUm[1] + shake / 2 + driftY };
  }

  #creptUm(nowMs: number): readonly [number, number] {
    const { driftUm = 0 } = this.#behaviour;
    const creptUm = driftUm * (1 - Math.exp(-(nowMs - this.#startMs) / HOUR_MS));
    return [creptUm * Math.cos(this.#driftRad), creptUm * Math.sin(this.#driftRad)];
  }

  /** What the screws and their mounting make of a way: pitch errors, and axes that are not at right angles. */
  #truly([x, y]: readonly [number, number]): readonly [number, number] {
    const { scaleErrorX = 0, scaleErrorY = 0, nonOrthogonalityMrad = 0 } = this.#behaviour;
    const alongY = y * (1 + scaleErrorY);
    return [x * (1 + scaleErrorX) + (alongY * nonOrthogonalityMrad) / 1000, alongY];
  }
}

class StageDevice implements Stage {
  readonly travel: StageBox;
  #isClosed = false;
  #isLost = false;
  #isAlarmed = false;
  readonly #clock: Clock;
  readonly #faults: Faults;
  readonly #behaviour: StageBehaviour;
  readonly #carriage: Carriage;
  readonly #sample: Sample;

  constructor(clock: Clock, faults: Faults, behaviour: StageBehaviour, carriage: Carriage, sample: Sample) {
    this.travel = behaviour.travel;
    this.#clock = clock;
    this.#faults = faults;
    this.#behaviour = behaviour;
    this.#carriage = carriage;
    this.#sample = sample;
  }

  async position(): Promise<StagePoint> {
    this.#check();
    this.#requirePosition();
    return this.#reported();
  }

  async state(): Promise<StageState> {
    if (this.#isClosed) return 'closed';
    this.#check();
    if (this.#isAlarmed) return 'alarm';
    if (this.#isLost) return 'positionLost';
    return this.#carriage.isMoving ? 'moving' : 'idle';
  }

  async moveTo(target: StagePoint, { speedUmPerS, signal }: MoveOptions = {}): Promise<StagePoint> {
    this.#check();
    this.#requirePosition();
    requireInside(this.travel, target);
    const { maxSpeedUmPerS } = this.#behaviour;
    const isAlarmed = this.#faults.strikes('hitLimit');
    await this.#ride(target, Math.min(maxSpeedUmPerS, speedUmPerS ?? maxSpeedUmPerS), signal, isAlarmed);
    return this.#reported();
  }

  async home(signal?: AbortSignal): Promise<void> {
    this.#check();
    await this.#ride({ xUm: this.travel.xMinUm, yUm: this.travel.yMinUm }, this.#behaviour.maxSpeedUmPerS, signal);
    this.#isLost = false;
    this.#isAlarmed = false;
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
    if (this.#isClosed) throw new DriverError('closed', { device: 'stage' });
    // Whoever was unplugged has forgotten where it is.
    if (this.#faults.isOn('unplug:stage')) {
      this.#isLost = true;
      this.#carriage.stop();
    }
    this.#faults.checkLine('stage');
  }

  #requirePosition(): void {
    if (this.#isAlarmed) throw new DriverError('alarm', { device: 'stage' });
    if (this.#isLost) throw new DriverError('positionLost', { device: 'stage' });
  }

  #reported(): StagePoint {
    const [x = 0, y = 0] = this.#carriage.now();
    return { xUm: Math.round(x * 10) / 10, yUm: Math.round(y * 10) / 10 };
  }

  async #ride({ xUm, yUm }: StagePoint, maxSpeedUmPerS: number, signal: AbortSignal | undefined, hitsLimit = false): Promise<void> {
    const [x = 0, y = 0] = this.#carriage.now();
    const stalls = (x !== xUm && this.#faults.strikes('stallX')) || (y !== yUm && this.#faults.strikes('stallY'));
    const { accelerationUmPerS2, jerkUmPerS3 } = this.#behaviour;
    const fails = hitsLimit ? 'alarm' : stalls ? 'stalled' : undefined;
    try {
      await this.#carriage.ride([xUm, yUm], { maxSpeedUmPerS, accelerationUmPerS2, jerkUmPerS3, signal, fails });
      this.#check();
    } catch (error) {
      if (hitsLimit) this.#isAlarmed = true;
      throw error;
    } finally {
      this.#sample.follow(this.#carriage.now());
      this.#sample.arrive(this.#reported(), this.#clock.now());
    }
  }
}

/**
 * A stage with limits, trapezoidal speed, backlash, errors of scale and angle, shaking after a move and imperfect repeatability, all from
 * the seed. What it reports is where its carriage is; where the sample is differs, as on a real one.
 */
export function createSimulatedStage(clock: Clock, seed: number, faults: Faults, behaviour: StageBehaviour): SimulatedStage {
  const { xUm, yUm } = behaviour.startAtUm;
  const carriage = new Carriage(clock, 'stage', [xUm, yUm]);
  const sample = new Sample(seed, behaviour, clock.now());
  const motorUm = () => ({ xUm: carriage.now()[0] ?? Number.NaN, yUm: carriage.now()[1] ?? Number.NaN });
  return { stage: new StageDevice(clock, faults, behaviour, carriage, sample), trueUm: () => sample.at(carriage.now(), clock.now()), motorUm, isMoving: () => carriage.isMoving };
}
