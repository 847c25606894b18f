import type { StagePoint } from '../../planner/units/index.ts';
import { DriverError, type FocusDrive, type Instrument, type MoveOptions, type SafetyLimits, type Stage, type Turret } from '../../drivers/interfaces/index.ts';
import type { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { Mover, type RigFault } from './mover.ts';

export interface HostileRig {
  readonly instrument: Instrument;
  /** Every forbidden command that reached a raw device. Empty when the gate does its work. */
  readonly forbidden: readonly string[];
  /** Every command that reached a raw device. */
  readonly received: readonly string[];
  readonly heightUm: () => number;
}

/** What the raw devices share: where things truly are, what goes wrong next, and the book of what was forbidden. */
class Rig {
  readonly forbidden: string[] = [];
  readonly received: string[] = [];
  readonly xy: Mover;
  readonly z: Mover;
  readonly clock: VirtualClock;
  readonly limits: SafetyLimits;
  readonly nextFault: () => RigFault;

  constructor(clock: VirtualClock, limits: SafetyLimits, startHeightUm: number, nextFault: () => RigFault) {
    this.clock = clock;
    this.limits = limits;
    this.nextFault = nextFault;
    this.xy = new Mover(clock, [0, 0]);
    this.z = new Mover(clock, [startHeightUm]);
  }

  get heightUm(): number {
    return this.z.at()[0] ?? Number.NaN;
  }

  get isLow(): boolean {
    return this.heightUm < this.limits.safeHeightUm;
  }

  get movesLow(): boolean {
    return this.z.isMoving && (this.isLow || (this.z.motion.to[0] ?? 0) < this.limits.safeHeightUm);
  }

  forbidIf(isForbidden: boolean, what: string): void {
    if (isForbidden) this.forbidden.push(what);
  }

  read(values: readonly number[]): readonly number[] {
    const fault = this.nextFault();
    if (fault === 'readFails') throw new DriverError('badReply');
    return fault === 'readsNaN' ? values.map(() => Number.NaN) : values;
  }

  async stop(mover: Mover): Promise<void> {
    if (this.nextFault() === 'stopFails') throw new DriverError('disconnected');
    mover.halt();
  }
}

const within = (value: number, min: number, max: number) => value >= min && value <= max;
const close = async () => undefined;
const endless = { xMinUm: -1e5, xMaxUm: 1e5, yMinUm: -1e5, yMaxUm: 1e5 };

function judgeStageMove(rig: Rig, target: StagePoint, speedUmPerS: number): void {
  const { limits } = rig;
  const isInside = within(target.xUm, limits.xMinUm, limits.xMaxUm) && within(target.yUm, limits.yMinUm, limits.yMaxUm);
  rig.forbidIf(!isInside, `stage target ${JSON.stringify(target)}`);
  rig.forbidIf(rig.movesLow, 'stage move while z moves low');
  rig.forbidIf(rig.xy.isMoving, 'stage move during a stage move');
  const [x = 0, y = 0] = rig.xy.at();
  const lengthUm = Math.hypot(target.xUm - x, target.yUm - y);
  rig.forbidIf(!(speedUmPerS > 0), `stage speed ${speedUmPerS}`);
  rig.forbidIf(rig.isLow && lengthUm > limits.maxLowTravelUm + 1e-6, `low stage move of ${lengthUm}`);
  rig.forbidIf(rig.isLow && speedUmPerS > limits.maxLowSpeedUmPerS, `low stage move at ${speedUmPerS}`);
}

function hostileStage(rig: Rig): Stage {
  return {
    travel: endless,
    async position() {
      const [xUm = 0, yUm = 0] = rig.read(rig.xy.at());
      return { xUm, yUm };
    },
    state: async () => 'idle',
    async moveTo(target, options: MoveOptions = {}) {
      rig.received.push('stage');
      const speedUmPerS = options.speedUmPerS ?? 50_000;
      judgeStageMove(rig, target, speedUmPerS);
      await rig.xy.go([target.xUm, target.yUm], speedUmPerS, rig.nextFault());
      return target;
    },
    async home() {
      rig.received.push('home');
      rig.forbidIf(rig.isLow || rig.movesLow, 'homing while low');
      await rig.xy.go([rig.limits.xMinUm, rig.limits.yMinUm], 20_000, rig.nextFault());
    },
    stop: () => rig.stop(rig.xy),
    close,
  };
}

function hostileFocus(rig: Rig): FocusDrive {
  const { limits } = rig;
  return {
    zMinUm: -1e5,
    zMaxUm: 1e5,
    position: async () => rig.read(rig.z.at())[0] ?? 0,
    async moveTo(zUm, options: MoveOptions = {}) {
      rig.received.push('focus');
      const speedUmPerS = options.speedUmPerS ?? 5000;
      const isLow = rig.isLow || zUm < limits.safeHeightUm;
      rig.forbidIf(!within(zUm, limits.zMinUm, limits.zMaxUm), `focus target ${zUm}`);
      rig.forbidIf(!(speedUmPerS > 0) || (isLow && speedUmPerS > limits.maxLowFocusSpeedUmPerS), `focus speed ${speedUmPerS}`);
      rig.forbidIf(isLow && zUm < rig.heightUm && rig.xy.isMoving, 'lowering while the stage moves');
      rig.forbidIf(rig.z.isMoving, 'focus move during a focus move');
      await rig.z.go([zUm], speedUmPerS, rig.nextFault());
      return zUm;
    },
    stop: () => rig.stop(rig.z),
    close,
  };
}

function hostileTurret(rig: Rig): Turret {
  let inPlace = 0;
  return {
    positions: 4,
    position: async () => inPlace,
    async moveTo(position) {
      rig.received.push('turret');
      rig.forbidIf(rig.isLow || rig.z.isMoving, 'turret change while low or moving');
      rig.forbidIf(!Number.isInteger(position) || !within(position, 0, 3), `turret position ${position}`);
      await rig.clock.sleep(20);
      if (rig.nextFault() === 'lostReply') throw new DriverError('timeout');
      inPlace = position;
    },
    close,
  };
}

/**
 * A raw instrument for putting the gate to the test: it does whatever it is told, fails as `nextFault` says, and writes down each
 * command that a person standing beside it would have forbidden, judged by where things truly are.
 */
export function hostileRig(clock: VirtualClock, limits: SafetyLimits, startHeightUm: number, nextFault: () => RigFault): HostileRig {
  const rig = new Rig(clock, limits, startHeightUm, nextFault);
  const setIntensity = async (fraction: number) => {
    rig.received.push('lamp');
    rig.forbidIf(!within(fraction, 0, limits.maxLampIntensity), `lamp ${fraction}`);
  };
  const info = { model: 'none', widthPx: 4, heightPx: 4, pixelFormat: 'mono8', bits: 8, exposureMinMs: 1, exposureMaxMs: 9 } as const;
  return {
    forbidden: rig.forbidden,
    received: rig.received,
    heightUm: () => rig.heightUm,
    instrument: {
      clock,
      stage: hostileStage(rig),
      focus: hostileFocus(rig),
      camera: { info, configure: async (settings) => settings, snap: () => Promise.reject(new DriverError('noFrame')), close },
      turret: hostileTurret(rig),
      lamp: { intensity: async () => 0, setIntensity, close },
    },
  };
}
