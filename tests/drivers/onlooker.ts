import type { CameraSettings, SafetyLimits } from '../../drivers/interfaces/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { Mover, type Motion } from './mover.ts';
import { RigLine, type RigFault } from './rigLine.ts';

const within = (value: number, min: number, max: number) => value >= min && value <= max;

export interface OnlookerOptions {
  readonly clock: VirtualClock;
  readonly limits: SafetyLimits;
  readonly startHeightUm: number;
  readonly nextFault: () => RigFault;
  /** Stage and focus drive share theirs. */
  readonly isOneLine: boolean;
}

/** A homing of stage and focus drive together. */
export interface Homing {
  /** How the objective was moved. */
  readonly lift: Motion;
  /** It is up, and has been told to go sideways. */
  isWaiting: boolean;
  isOver: boolean;
}

/** Who stands beside the instrument, sees where everything truly is, and writes down what should not have been. The laws are issue 5's. */
export class Onlooker {
  readonly forbidden: string[] = [];
  readonly received: string[] = [];
  readonly clock: VirtualClock;
  readonly limits: SafetyLimits;
  readonly xyLine: RigLine;
  readonly zLine: RigLine;
  readonly turretLine: RigLine;
  readonly xy: Mover;
  readonly z: Mover;
  /** The last one that moved the objective as well. */
  homing: Homing | undefined;
  turnsUntilMs = Number.NEGATIVE_INFINITY;

  constructor({ clock, limits, startHeightUm, nextFault, isOneLine }: OnlookerOptions) {
    this.clock = clock;
    this.limits = limits;
    this.xyLine = new RigLine(clock, nextFault);
    this.zLine = isOneLine ? this.xyLine : new RigLine(clock, nextFault);
    this.turretLine = new RigLine(clock, nextFault);
    this.xy = new Mover(clock, this.xyLine, [0, 0]);
    this.z = new Mover(clock, this.zLine, [startHeightUm]);
  }

  get heightUm(): number {
    return this.z.at()[0] ?? Number.NaN;
  }

  get isLifting(): boolean {
    return this.homing !== undefined && !this.homing.isOver;
  }

  /** With the stage a homing is halted that lifts; one that is about to go sideways, and has not begun to, goes on. */
  haltLift(): void {
    const { homing, z } = this;
    if (!homing || homing.isWaiting) return;
    homing.isOver = true;
    if (z.motion === homing.lift) z.halt();
  }

  judgeStageMove({ xUm, yUm }: StagePoint, speedUmPerS: number): void {
    const { limits } = this;
    const isInside = within(xUm, limits.xMinUm, limits.xMaxUm) && within(yUm, limits.yMinUm, limits.yMaxUm);
    this.#forbidIf(!isInside, `stage target ${xUm}, ${yUm}`);
    this.#forbidIf(this.#isLowered, 'stage move while the objective is lowered');
    this.#forbidIf(this.xy.isMoving || this.isLifting, 'stage move during a stage move');
    const [x = 0, y = 0] = this.xy.at();
    const lengthUm = Math.hypot(xUm - x, yUm - y);
    this.#forbidIf(!(speedUmPerS > 0), `stage speed ${speedUmPerS}`);
    this.#forbidIf(this.#isLow && lengthUm > limits.maxLowTravelUm + 1e-6, `low stage move of ${lengthUm}`);
    this.#forbidIf(this.#isLow && speedUmPerS > limits.maxLowSpeedUmPerS, `low stage move at ${speedUmPerS}`);
  }

  judgeHoming(): void {
    this.#forbidIf(this.#isLow || this.#isLowered, 'homing while low');
    this.#forbidIf(this.xy.isMoving, 'homing during a stage move');
  }

  judgeLift(): void {
    this.#forbidIf(this.z.isMoving || this.xy.isMoving || this.isLifting, 'lifting home while something moves');
    this.#forbidIf(this.#turns && this.#isLow, 'lifting home while the turret turns');
  }

  judgeFocusMove(zUm: number, speedUmPerS: number): void {
    const { limits } = this;
    const endsLow = zUm < limits.safeHeightUm;
    const isLowering = endsLow && zUm < this.heightUm;
    this.#forbidIf(!within(zUm, limits.zMinUm, limits.zMaxUm), `focus target ${zUm}`);
    this.#forbidIf(!(speedUmPerS > 0) || ((this.#isLow || endsLow) && speedUmPerS > limits.maxLowFocusSpeedUmPerS), `focus speed ${speedUmPerS}`);
    this.#forbidIf(isLowering && this.xy.isMoving, 'lowering while the stage moves');
    this.#forbidIf(isLowering && this.#turns, 'lowering while the turret turns');
    // Up may be ordered over a motion that a line gone mute cannot be asked about.
    this.#forbidIf(this.isLifting || (this.z.isMoving && endsLow && zUm < this.heightUm), 'focus move during a focus move');
  }

  judgeFocusHoming(): void {
    this.#forbidIf(this.isLifting, 'focus homing while another lifts');
    this.#forbidIf(this.#turns && this.#isLow, 'focus homing while the turret turns');
  }

  judgeTurretChange(position: number): void {
    this.#forbidIf(this.#isLow || this.z.isMoving || this.isLifting, 'turret change while low or moving');
    this.#forbidIf(!Number.isInteger(position) || !within(position, 0, 3), `turret position ${position}`);
  }

  judgeReference(): void {
    this.received.push('reference');
    this.#forbidIf(this.z.isMoving || this.xy.isMoving, 'a reference while something moves');
  }

  judgeLamp(fraction: number): void {
    this.received.push('lamp');
    this.#forbidIf(!within(fraction, 0, this.limits.maxLampIntensity), `lamp ${fraction}`);
  }

  judgeFieldStop(fraction: number): void {
    this.received.push('fieldStop');
    this.#forbidIf(!within(fraction, 0, 1), `field stop ${fraction}`);
  }

  judgeCamera({ exposureMs, gainDb, region }: CameraSettings): void {
    this.received.push('camera');
    const isSound = exposureMs > 0 && Number.isFinite(exposureMs) && Number.isFinite(gainDb) && (!region || Object.values(region).every(Number.isInteger));
    this.#forbidIf(!isSound, `camera ${exposureMs} ${gainDb} ${JSON.stringify(region)}`);
  }

  get #isLow(): boolean {
    return this.heightUm < this.limits.safeHeightUm;
  }

  /** What goes up beside a moving stage leaves the chips. */
  get #isLowered(): boolean {
    const toUm = this.z.motion.to[0] ?? Number.NaN;
    return this.z.isMoving && toUm < this.limits.safeHeightUm && toUm < this.heightUm;
  }

  get #turns(): boolean {
    return this.clock.now() < this.turnsUntilMs;
  }

  #forbidIf(isForbidden: boolean, what: string): void {
    if (isForbidden) this.forbidden.push(what);
  }
}
