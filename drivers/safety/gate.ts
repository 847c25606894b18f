import { DriverError, type Instrument, type SafetyLimits } from '../interfaces/index.ts';
import { guardFieldStop } from './guardFieldStop.ts';
import { guardFocus } from './guardFocus.ts';
import { guardCamera, guardLamp } from './guardLight.ts';
import { guardStage } from './guardStage.ts';
import { guardTurret } from './guardTurret.ts';
import { patientInstrument, USUAL_PATIENCE, type Patience } from './patience.ts';
import { createWatch } from './watch.ts';

/** Throws `limit` when the limits themselves make no sense: a limit that is no number would let everything pass. */
function requireSense(limits: SafetyLimits): void {
  for (const [name, value] of Object.entries<number>({ ...limits })) {
    if (!Number.isFinite(value)) throw new DriverError('limit', { what: name, asked: value });
  }
  const { xMinUm, xMaxUm, yMinUm, yMaxUm, zMinUm, zMaxUm, safeHeightUm } = limits;
  const inOrder = [[xMinUm, xMaxUm], [yMinUm, yMaxUm], [zMinUm, safeHeightUm], [safeHeightUm, zMaxUm]] as const;
  for (const [low, high] of inOrder) {
    if (low > high) throw new DriverError('limit', { what: 'limits in the wrong order', low, high });
  }
}

/**
 * Wraps an instrument in the safety gate: below the run and the page alike, and the only thing that the opener hands out.
 *
 * Refused, with nothing sent to the device: targets beyond the soft limits or that are no numbers (`limit`); sideways moves longer
 * than `maxLowTravelUm`, homing and turret changes below the safe height, sideways moves while the objective moves below it, lowering below
 * it while the stage moves or the turret is not in place, a move whose height cannot be read (`unsafeHeight` or the reading's own error);
 * moves asked to go faster than the height allows (`tooFast`; where no speed is asked, the bound is passed down); a lamp above its limit
 * (`lampLimit`); a second move of a device that has not ended its first (`unsupported`).
 *
 * Homing that lifts the objective first, and a focus drive's own, which goes up, may begin at any height, while nothing else moves; while
 * a lifting one goes on nothing else may move the objective or turn it away. Going up is else always allowed. A stop always passes, and what
 * was still being checked then ends with `stopped`. After a failed move the device is halted, and must be seen at rest, before
 * anything else moves; only the way up need not wait for that. What is closed is halted first. Every call ends, with `timeout` where the
 * device behind it does not answer for longer than `patience` has it.
 *
 * A convenience against mistakes, not a safety device: it believes the positions that the devices report, but no single figure that would
 * let something pass.
 */
export function guardInstrument(device: Instrument, limits: SafetyLimits, patience: Patience = USUAL_PATIENCE): Instrument {
  // A copy, which nobody can change afterwards.
  const own = { ...limits };
  requireSense(own);
  const raw = patientInstrument(device, patience);
  const watch = createWatch(raw, own);
  return {
    clock: raw.clock,
    stage: guardStage(raw.stage, watch),
    focus: guardFocus(raw.focus, watch),
    camera: guardCamera(raw.camera),
    turret: guardTurret(raw.turret, watch),
    lamp: guardLamp(raw.lamp, watch.limits),
    ...(raw.fieldStop ? { fieldStop: guardFieldStop(raw.fieldStop) } : {}),
  };
}
