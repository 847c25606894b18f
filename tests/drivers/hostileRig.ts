import { DriverError, type Camera, type FieldStop, type FocusDrive, type Instrument, type Lamp, type SafetyLimits, type Stage, type Turret } from '../../drivers/interfaces/index.ts';
import type { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { Onlooker, type Homing } from './onlooker.ts';
import type { RigFault } from './rigLine.ts';

export interface HostileRig {
  readonly instrument: Instrument;
  /** Every forbidden motion or setting of a raw device. Empty when the gate does its work. */
  readonly forbidden: readonly string[];
  /** Every command that reached a raw device. */
  readonly received: readonly string[];
  readonly heightUm: () => number;
}

export interface HostileRigOptions {
  readonly clock: VirtualClock;
  readonly limits: SafetyLimits;
  readonly startHeightUm: number;
  readonly nextFault: () => RigFault;
  /** Stage and focus drive are one controller's, which homes the objective first. */
  readonly homingLifts?: boolean;
}

const LIFT_UM_PER_S = 300;
const HOME_UM_PER_S = 20_000;
const TURN_MS = 300;
const endless = { xMinUm: -1e5, xMaxUm: 1e5, yMinUm: -1e5, yMaxUm: 1e5 };

/** Up, then sideways, each only when the one before is through. */
async function homeLifting(look: Onlooker, fault: RigFault): Promise<void> {
  const { xy, z, limits } = look;
  look.judgeLift();
  const lifted = z.go({ to: [limits.zMaxUm], speedUmPerS: LIFT_UM_PER_S, fault: 'none', begins: () => undefined });
  const homing: Homing = { lift: z.motion, isWaiting: false, isOver: false };
  look.homing = homing;
  try {
    await lifted;
    if (homing.isOver) throw new DriverError('stopped');
    homing.isWaiting = true;
    await xy.go({ to: [limits.xMinUm, limits.yMinUm], speedUmPerS: HOME_UM_PER_S, fault, begins: () => void (homing.isWaiting = false) });
  } finally {
    homing.isOver = true;
  }
}

function hostileStage(look: Onlooker, homingLifts: boolean): Stage {
  const { xy, xyLine, limits } = look;
  return {
    travel: endless,
    async position() {
      const [xUm = 0, yUm = 0] = xyLine.read(xy.at());
      return { xUm, yUm };
    },
    state: async () => 'idle',
    async moveTo(target, { speedUmPerS = 50_000, signal } = {}) {
      look.received.push('stage');
      const fault = xyLine.call();
      await xy.go({ to: [target.xUm, target.yUm], speedUmPerS, fault, signal, begins: () => look.judgeStageMove(target, speedUmPerS) });
      return target;
    },
    async home() {
      look.received.push('home');
      const fault = xyLine.call();
      if (!homingLifts) return xy.go({ to: [limits.xMinUm, limits.yMinUm], speedUmPerS: HOME_UM_PER_S, fault, begins: () => look.judgeHoming() });
      const homing = homeLifting(look, fault);
      homing.catch(() => undefined);
      // It goes on by itself, whatever is heard of it.
      if (fault === 'lostReply') throw new DriverError('timeout');
      await xyLine.whilePlugged(homing);
    },
    ...(homingLifts ? { homingLifts } : {}),
    takeReference: async () => look.judgeReference(),
    stop: () => xyLine.stop({ halt: () => look.haltLift() }, xy),
    close: () => xyLine.close(),
  };
}

function hostileFocus(look: Onlooker): FocusDrive {
  const { z, zLine, limits } = look;
  return {
    zMinUm: -1e5,
    zMaxUm: 1e5,
    position: async () => zLine.read(z.at())[0] ?? 0,
    async moveTo(zUm, { speedUmPerS = 5000, signal } = {}) {
      look.received.push('focus');
      const fault = zLine.call();
      await z.go({ to: [zUm], speedUmPerS, fault, signal, begins: () => look.judgeFocusMove(zUm, speedUmPerS) });
      return zUm;
    },
    async home() {
      look.received.push('focusHome');
      const fault = zLine.call();
      await z.go({ to: [limits.zMaxUm], speedUmPerS: LIFT_UM_PER_S, fault, begins: () => look.judgeFocusHoming() });
    },
    takeReference: async () => look.judgeReference(),
    stop: () => zLine.stop(z),
    close: () => zLine.close(),
  };
}

function hostileTurret(look: Onlooker): Turret {
  const { turretLine, clock } = look;
  return {
    positions: 4,
    position: async () => 0,
    async moveTo(position) {
      look.received.push('turret');
      const fault = turretLine.call();
      if (fault === 'refused') throw new DriverError('deviceError');
      look.judgeTurretChange(position);
      look.turnsUntilMs = clock.now() + (fault === 'lostReply' ? 10 : 1) * TURN_MS;
      if (fault === 'lostReply') throw new DriverError('timeout');
      await turretLine.whilePlugged(clock.sleep(TURN_MS));
    },
    close: () => turretLine.close(),
  };
}

function hostileLights(look: Onlooker): { readonly lamp: Lamp; readonly fieldStop: FieldStop; readonly camera: Camera } {
  const close = async () => undefined;
  const info = { model: 'none', widthPx: 4, heightPx: 4, pixelFormat: 'mono8', bits: 8, exposureMinMs: 1, exposureMaxMs: 9 } as const;
  return {
    lamp: { intensity: async () => 0, setIntensity: async (fraction) => look.judgeLamp(fraction), close },
    fieldStop: { opening: async () => 1, setOpening: async (fraction) => look.judgeFieldStop(fraction), close },
    camera: {
      info,
      async configure(settings) {
        // As a driver does that talks to its camera before it looks at what it was told.
        await look.clock.sleep(1);
        look.judgeCamera(settings);
        return settings;
      },
      snap: () => Promise.reject(new DriverError('noFrame')),
      close,
    },
  };
}

/**
 * A raw instrument for putting the gate to the test: it does whatever it is told, fails as `nextFault` says, and writes down each
 * motion that a person standing beside it would have forbidden, judged by where things truly are when it truly begins.
 */
export function hostileRig({ homingLifts = false, ...options }: HostileRigOptions): HostileRig {
  const look = new Onlooker({ ...options, isOneLine: homingLifts });
  return {
    forbidden: look.forbidden,
    received: look.received,
    heightUm: () => look.heightUm,
    instrument: { clock: options.clock, stage: hostileStage(look, homingLifts), focus: hostileFocus(look), turret: hostileTurret(look), ...hostileLights(look) },
  };
}
