import { DriverError, type Camera, type Clock, type FieldStop, type FocusDrive, type Instrument, type Lamp, type MoveOptions, type Stage, type Turret } from '../interfaces/index.ts';

/** How long a call of each kind may go on before it counts as lost. Drivers have time limits of their own, far below: these are for one that fails. */
export interface Patience {
  /** Questions, settings, and stops. */
  readonly answerMs: number;
  readonly stageMoveMs: number;
  readonly focusMoveMs: number;
  readonly homingMs: number;
  readonly turretMs: number;
  /** A frame, beyond twice its exposure. */
  readonly frameMs: number;
}

export const USUAL_PATIENCE: Patience = { answerMs: 30_000, stageMoveMs: 300_000, focusMoveMs: 600_000, homingMs: 600_000, turretMs: 60_000, frameMs: 60_000 };

/** A call that was given up may take so long to say so; after that it counts as lost, too. */
const GIVEN_UP_MS = 10_000;

interface Call<T> {
  readonly device: string;
  readonly what: string;
  readonly limitMs: number;
  readonly signal?: AbortSignal | undefined;
  readonly call: () => Promise<T>;
}

/** Resolves when the signal is aborted; never when `done` is first. */
function aborted(signal: AbortSignal, done: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    if (signal.aborted) resolve();
    else signal.addEventListener('abort', () => resolve(), { once: true, signal: done });
  });
}

/** Ends as the call does, or with `timeout` when that is too late. What becomes of the call after that is met by nobody. */
async function within<T>(clock: Clock, { device, what, limitMs, signal, call }: Call<T>): Promise<T> {
  const done = new AbortController();
  const late = async (ms: number): Promise<never> => {
    await clock.sleep(ms, done.signal);
    throw new DriverError('timeout', { device, what: `${what} has not ended`, waitedMs: ms });
  };
  const ends: Promise<T>[] = [call(), late(limitMs)];
  if (signal) ends.push(aborted(signal, done.signal).then(() => late(GIVEN_UP_MS)));
  try {
    return await Promise.race(ends);
  } finally {
    done.abort();
  }
}

type Limited = <T>(what: string, limitMs: number, call: () => Promise<T>, signal?: AbortSignal) => Promise<T>;

function limited(clock: Clock, device: string): Limited {
  return (what, limitMs, call, signal) => within(clock, { device, what, limitMs, call, signal });
}

function patientStage(raw: Stage, clock: Clock, { answerMs, stageMoveMs, homingMs }: Patience): Stage {
  const limit = limited(clock, 'stage');
  return {
    travel: raw.travel,
    position: () => limit('telling its position', answerMs, () => raw.position()),
    state: () => limit('telling its state', answerMs, () => raw.state()),
    moveTo: (target, options: MoveOptions = {}) => limit('a move', stageMoveMs, () => raw.moveTo(target, options), options.signal),
    home: (signal) => limit('homing', homingMs, () => raw.home(signal), signal),
    ...(raw.homingLifts ? { homingLifts: true } : {}),
    ...(raw.takeReference ? { takeReference: () => limit('taking its reference', answerMs, async () => raw.takeReference?.()) } : {}),
    stop: () => limit('a stop', answerMs, () => raw.stop()),
    close: () => raw.close(),
  };
}

function patientFocus(raw: FocusDrive, clock: Clock, { answerMs, focusMoveMs, homingMs }: Patience): FocusDrive {
  const limit = limited(clock, 'focus');
  return {
    zMinUm: raw.zMinUm,
    zMaxUm: raw.zMaxUm,
    position: () => limit('telling its height', answerMs, () => raw.position()),
    moveTo: (zUm, options: MoveOptions = {}) => limit('a move', focusMoveMs, () => raw.moveTo(zUm, options), options.signal),
    ...(raw.home ? { home: (signal?: AbortSignal) => limit('homing', homingMs, async () => raw.home?.(signal), signal) } : {}),
    ...(raw.takeReference ? { takeReference: () => limit('taking its reference', answerMs, async () => raw.takeReference?.()) } : {}),
    stop: () => limit('a stop', answerMs, () => raw.stop()),
    close: () => raw.close(),
  };
}

function patientCamera(raw: Camera, clock: Clock, { answerMs, frameMs }: Patience): Camera {
  const limit = limited(clock, 'camera');
  let exposureMs = 0;
  return {
    info: raw.info,
    async configure(settings) {
      const used = await limit('being set', answerMs, () => raw.configure(settings));
      exposureMs = used.exposureMs;
      return used;
    },
    async snap(signal, onExposed) {
      let isAwaited = true;
      // A frame that comes when nobody waits for it any more must not send the stage on its way.
      const exposed = onExposed && (() => (isAwaited ? onExposed() : undefined));
      try {
        return await limit('a frame', frameMs + 2 * exposureMs, () => raw.snap(signal, exposed), signal);
      } finally {
        isAwaited = false;
      }
    },
    close: () => raw.close(),
  };
}

function patientTurret(raw: Turret, clock: Clock, { answerMs, turretMs }: Patience): Turret {
  const limit = limited(clock, 'turret');
  return {
    positions: raw.positions,
    position: () => limit('telling its position', answerMs, () => raw.position()),
    moveTo: (position) => limit('a change', turretMs, () => raw.moveTo(position)),
    close: () => raw.close(),
  };
}

function patientLamp(raw: Lamp, clock: Clock, { answerMs }: Patience): Lamp {
  const limit = limited(clock, 'lamp');
  return {
    ...(raw.isByHand ? { isByHand: true } : {}),
    intensity: () => limit('telling its intensity', answerMs, () => raw.intensity()),
    setIntensity: (fraction) => limit('being set', answerMs, () => raw.setIntensity(fraction)),
    close: () => raw.close(),
  };
}

function patientFieldStop(raw: FieldStop, clock: Clock, { answerMs, turretMs }: Patience): FieldStop {
  const limit = limited(clock, 'fieldStop');
  return {
    opening: () => limit('telling its opening', answerMs, () => raw.opening()),
    setOpening: (fraction) => limit('a change', turretMs, () => raw.setOpening(fraction)),
    close: () => raw.close(),
  };
}

/**
 * The same instrument, every call of which ends: a driver that never answers is answered for, with `timeout`. Below the safety gate, so
 * that its one door, through which moves are let one after the other, cannot be held shut by a question that nobody answers. Only closing
 * takes what it takes: no night waits for it, and what a simulated camera ends then takes real time.
 */
export function patientInstrument(raw: Instrument, patience: Patience): Instrument {
  const { clock } = raw;
  return {
    clock,
    stage: patientStage(raw.stage, clock, patience),
    focus: patientFocus(raw.focus, clock, patience),
    camera: patientCamera(raw.camera, clock, patience),
    turret: patientTurret(raw.turret, clock, patience),
    lamp: patientLamp(raw.lamp, clock, patience),
    ...(raw.fieldStop ? { fieldStop: patientFieldStop(raw.fieldStop, clock, patience) } : {}),
  };
}
