import { DriverError, type Clock, type FocusDrive } from '../../drivers/interfaces/index.ts';
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
};

export interface SimulatedFocus {
  readonly focus: FocusDrive;
  /** Where the objective truly is; for the simulated camera only. */
  trueUm(): number;
}

const HOUR_MS = 3_600_000;

/** A focus drive with limits, speed, a little hysteresis and a slow drift. It reports where its motor is. */
export function createSimulatedFocus(clock: Clock, seed: number, faults: Faults, behaviour: FocusBehaviour): SimulatedFocus {
  const { zMinUm, zMaxUm, startAtUm, speedUmPerS, accelerationUmPerS2, hysteresisUm } = behaviour;
  const carriage = new Carriage(clock, 'focus', [startAtUm]);
  const startMs = clock.now();
  const visits = new Visits();
  let drivenUm = startAtUm;
  let missUm = 0;
  let isClosed = false;
  const check = () => {
    if (isClosed) throw new DriverError('closed', { device: 'focus' });
    if (faults.isOn('unplug:focus')) carriage.stop();
    faults.checkLine('focus');
  };
  const motorUm = () => carriage.now()[0] ?? Number.NaN;
  const reported = () => Math.round(motorUm() * 100) / 100;
  const follow = () => {
    drivenUm = withPlay(drivenUm, motorUm(), hysteresisUm);
    return drivenUm;
  };
  const driftUm = () => {
    const hours = (clock.now() - startMs) / HOUR_MS;
    return behaviour.warmUpUm * (1 - Math.exp(-hours)) + behaviour.driftUmPerH * hours;
  };
  const focus: FocusDrive = {
    zMinUm,
    zMaxUm,
    async position() {
      check();
      return reported();
    },
    async moveTo(zUm, options = {}) {
      check();
      if (!(zUm >= zMinUm && zUm <= zMaxUm)) throw new DriverError('limit', { device: 'focus', zUm, zMinUm, zMaxUm });
      const maxSpeedUmPerS = Math.min(speedUmPerS, options.speedUmPerS ?? speedUmPerS);
      const stalls = motorUm() !== zUm && faults.strikes('stallZ');
      try {
        await carriage.ride([zUm], { maxSpeedUmPerS, accelerationUmPerS2, signal: options.signal, stalls });
        check();
      } finally {
        follow();
        missUm = randomStream(seed, visits.next(zUm.toFixed(2)), 'focus repeatability').normal() * behaviour.repeatabilityUm;
      }
      return reported();
    },
    async stop() {
      check();
      carriage.stop();
    },
    async close() {
      carriage.stop();
      isClosed = true;
    },
  };
  return { focus, trueUm: () => follow() + missUm - driftUm() };
}
