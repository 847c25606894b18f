import type { Camera } from './camera.ts';
import type { Clock } from './clock.ts';
import type { FieldStop } from './fieldStop.ts';
import type { FocusDrive } from './focusDrive.ts';
import type { Lamp } from './lamp.ts';
import type { Stage } from './stage.ts';
import type { Turret } from './turret.ts';

/** Everything that makes one microscope. Only the safety gate's wrapped version ever leaves the opener. */
export interface Instrument {
  readonly clock: Clock;
  readonly stage: Stage;
  readonly focus: FocusDrive;
  readonly camera: Camera;
  readonly turret: Turret;
  readonly lamp: Lamp;
  /** Where one is fitted. */
  readonly fieldStop?: FieldStop;
}

/** What the safety gate holds every call against; from `instrument.yaml`. */
export interface SafetyLimits {
  /** Soft limits of the stage, inside its travel. */
  readonly xMinUm: number;
  readonly xMaxUm: number;
  readonly yMinUm: number;
  readonly yMaxUm: number;
  /** The objective is never lower than this. */
  readonly zMinUm: number;
  readonly zMaxUm: number;
  /** At or above this height the objective clears every chip, clamp and holder. */
  readonly safeHeightUm: number;
  /** Sideways moves longer than this need the safe height. */
  readonly maxLowTravelUm: number;
  /** Top speed of sideways moves below the safe height. */
  readonly maxLowSpeedUmPerS: number;
  /** Top speed of the focus drive below the safe height. */
  readonly maxLowFocusSpeedUmPerS: number;
  /** Largest lamp intensity, 0 to 1. */
  readonly maxLampIntensity: number;
}
