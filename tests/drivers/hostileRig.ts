import type { StagePoint } from '../../planner/units/index.ts';
import { DriverError, type Instrument, type MoveOptions, type SafetyLimits } from '../../drivers/interfaces/index.ts';
import type { VirtualClock } from '../../simulators/clock/virtualClock.ts';

/** What the next call of a raw device does wrong. */
export type RigFault = 'none' | 'lostReply' | 'stalls' | 'readFails' | 'readsNaN' | 'stopFails';

interface Motion {
  readonly from: readonly number[];
  readonly to: readonly number[];
  readonly startMs: number;
  readonly endMs: number;
}

/** One axis group that really moves in virtual time, goes on after a lost reply, and only halts when a stop gets through. */
class Mover {
  motion: Motion;
  readonly #clock: VirtualClock;

  constructor(clock: VirtualClock, at: readonly number[]) {
    this.#clock = clock;
    this.motion = { from: at, to: at, startMs: clock.now(), endMs: clock.now() };
  }

  get isMoving(): boolean {
    return this.#clock.now() < this.motion.endMs;
  }

  at(): readonly number[] {
    const { from, to, startMs, endMs } = this.motion;
    const share = this.isMoving ? (this.#clock.now() - startMs) / (endMs - startMs) : 1;
    return to.map((end, axis) => (from[axis] ?? 0) + (end - (from[axis] ?? 0)) * share);
  }

  halt(): void {
    const at = this.at();
    this.motion = { from: at, to: at, startMs: this.#clock.now(), endMs: this.#clock.now() };
  }

  async go(to: readonly number[], speedUmPerS: number, fault: RigFault): Promise<void> {
    const from = this.at();
    const ms = (Math.hypot(...to.map((end, axis) => end - (from[axis] ?? 0))) / speedUmPerS) * 1000;
    const motion = { from, to, startMs: this.#clock.now(), endMs: this.#clock.now() + ms };
    this.motion = motion;
    if (fault === 'lostReply') {
      await this.#clock.sleep(Math.min(ms, 5));
      throw new DriverError('timeout');
    }
    await this.#clock.sleep(fault === 'stalls' ? ms / 2 : ms);
    if (this.motion !== motion) throw new DriverError('stopped');
    if (fault !== 'stalls') return;
    this.halt();
    throw new DriverError('stalled');
  }
}

export interface HostileRig {
  readonly instrument: Instrument;
  /** Every forbidden command that reached a raw device. Empty when the gate does its work. */
  readonly forbidden: readonly string[];
  /** Every command that reached a raw device. */
  readonly received: readonly string[];
  readonly heightUm: () => number;
}

/**
 * A raw instrument for putting the gate to the test: it does whatever it is told, fails as `nextFault` says, and writes down each
 * command that a person standing beside it would have forbidden, judged by where things truly are.
 */
export function hostileRig(clock: VirtualClock, limits: SafetyLimits, startHeightUm: number, nextFault: () => RigFault): HostileRig {
  const forbidden: string[] = [];
  const received: string[] = [];
  const xy = new Mover(clock, [0, 0]);
  const z = new Mover(clock, [startHeightUm]);
  const heightUm = () => z.at()[0] ?? Number.NaN;
  const forbidIf = (isForbidden: boolean, what: string) => {
    if (isForbidden) forbidden.push(what);
  };
  const isLowNow = () => heightUm() < limits.safeHeightUm;
  const zTouchesLow = () => z.isMoving && (isLowNow() || (z.motion.to[0] ?? 0) < limits.safeHeightUm);
  const read = (values: readonly number[]): readonly number[] => {
    const fault = nextFault();
    if (fault === 'readFails') throw new DriverError('badReply');
    return fault === 'readsNaN' ? values.map(() => Number.NaN) : values;
  };
  const stop = async (mover: Mover) => {
    if (nextFault() === 'stopFails') throw new DriverError('disconnected');
    mover.halt();
  };
  const within = (value: number, min: number, max: number) => value >= min && value <= max;
  let turret = 0;

  const moveStage = async (target: StagePoint, options: MoveOptions = {}) => {
    received.push('stage');
    const inside = within(target.xUm, limits.xMinUm, limits.xMaxUm) && within(target.yUm, limits.yMinUm, limits.yMaxUm);
    forbidIf(!inside, `stage target ${JSON.stringify(target)}`);
    forbidIf(zTouchesLow(), 'stage move while z moves low');
    forbidIf(xy.isMoving, 'stage move during a stage move');
    const [x = 0, y = 0] = xy.at();
    const lengthUm = Math.hypot(target.xUm - x, target.yUm - y);
    const speedUmPerS = options.speedUmPerS ?? 50_000;
    forbidIf(!(speedUmPerS > 0), `stage speed ${speedUmPerS}`);
    forbidIf(isLowNow() && lengthUm > limits.maxLowTravelUm + 1e-6, `low stage move of ${lengthUm}`);
    forbidIf(isLowNow() && speedUmPerS > limits.maxLowSpeedUmPerS, `low stage move at ${speedUmPerS}`);
    await xy.go([target.xUm, target.yUm], speedUmPerS, nextFault());
    return target;
  };
  const moveFocus = async (zUm: number, options: MoveOptions = {}) => {
    received.push('focus');
    const speedUmPerS = options.speedUmPerS ?? 5000;
    const isLow = isLowNow() || zUm < limits.safeHeightUm;
    forbidIf(!within(zUm, limits.zMinUm, limits.zMaxUm), `focus target ${zUm}`);
    forbidIf(!(speedUmPerS > 0) || (isLow && speedUmPerS > limits.maxLowFocusSpeedUmPerS), `focus speed ${speedUmPerS}`);
    forbidIf(isLow && zUm < heightUm() && xy.isMoving, 'lowering while the stage moves');
    forbidIf(z.isMoving, 'focus move during a focus move');
    await z.go([zUm], speedUmPerS, nextFault());
    return zUm;
  };
  const moveTurret = async (position: number) => {
    received.push('turret');
    forbidIf(isLowNow() || z.isMoving, 'turret change while low or moving');
    forbidIf(!Number.isInteger(position) || !within(position, 0, 3), `turret position ${position}`);
    await clock.sleep(20);
    if (nextFault() === 'lostReply') throw new DriverError('timeout');
    turret = position;
  };
  const home = async () => {
    received.push('home');
    forbidIf(isLowNow() || zTouchesLow(), 'homing while low');
    await xy.go([limits.xMinUm, limits.yMinUm], 20_000, nextFault());
  };
  const setLamp = async (fraction: number) => {
    received.push('lamp');
    forbidIf(!within(fraction, 0, limits.maxLampIntensity), `lamp ${fraction}`);
  };
  const travel = { xMinUm: -1e5, xMaxUm: 1e5, yMinUm: -1e5, yMaxUm: 1e5 };
  const close = async () => undefined;
  const point = ([xUm = 0, yUm = 0]: readonly number[]) => ({ xUm, yUm });
  const info = { model: 'none', widthPx: 4, heightPx: 4, pixelFormat: 'mono8', bits: 8, exposureMinMs: 1, exposureMaxMs: 9 } as const;
  const noFrame = () => Promise.reject(new DriverError('noFrame'));
  return {
    forbidden,
    received,
    heightUm,
    instrument: {
      clock,
      stage: { travel, position: async () => point(read(xy.at())), state: async () => 'idle', moveTo: moveStage, home, stop: () => stop(xy), close },
      focus: { zMinUm: -1e5, zMaxUm: 1e5, position: async () => read(z.at())[0] ?? 0, moveTo: moveFocus, stop: () => stop(z), close },
      camera: { info, configure: async (settings) => settings, snap: noFrame, close },
      turret: { positions: 4, position: async () => turret, moveTo: moveTurret, close },
      lamp: { intensity: async () => 0, setIntensity: setLamp, close },
    },
  };
}
