import { DriverError, type ErrorDetails } from '../interfaces/index.ts';
import { axisIndex, toUm, type GcodeAxis } from './axis.ts';
import type { AxisPace } from './travelTime.ts';

/** The controller's settings by their numbers, as `$$` prints them. */
export type Settings = ReadonlyMap<number, number>;

/** How the controller's count is tied to places: by switches that it finds itself, or by a place that a person takes it to. */
export type Reference = 'homing' | 'byHand';

// Numbers of settings in the documentation of grbl 1.1 (from memory).
const REPORT_INCHES = 13;
const SOFT_LIMITS = 20;
const HOMING = 22;
const HOMING_DIRECTIONS = 23;
const STEPS = 100;
const MAX_RATE = 110;
const ACCELERATION = 120;
const TRAVEL = 130;

/** Every setting that the driver needs to know before anything moves. */
export const NEEDED_SETTINGS: readonly number[] = [REPORT_INCHES, SOFT_LIMITS, HOMING, HOMING_DIRECTIONS, ...[STEPS, MAX_RATE, ACCELERATION, TRAVEL].flatMap((first) => [first, first + 1, first + 2])];

/** Steps are printed with three decimals. */
const STEPS_TOLERANCE = 0.0006;
/** Soft limits may be this much tighter than the travel asked for: rounding. */
const TRAVEL_TOLERANCE_UM = 1;

const differ = (about: ErrorDetails, number: number, meaning: string, expected: number | string, found: number | string) =>
  new DriverError('settingsDiffer', { ...about, setting: `$${number}`, meaning, expected, found });

/** Whether the axis finds its switch at the low end of the machine's mm. */
function homesLow(axis: GcodeAxis, settings: Settings): boolean {
  return ((settings.get(HOMING_DIRECTIONS) ?? 0) & (1 << axisIndex(axis))) !== 0;
}

function requireAxis(axis: GcodeAxis, settings: Settings, reference: Reference, about: ErrorDetails): void {
  const index = axisIndex(axis);
  const steps = settings.get(STEPS + index) ?? Number.NaN;
  if (!(Math.abs(steps - axis.stepsPerMm) <= STEPS_TOLERANCE)) throw differ(about, STEPS + index, `steps per mm of ${axis.letter}`, axis.stepsPerMm, steps);
  if (settings.get(SOFT_LIMITS) !== 1 || reference !== 'homing') return;
  // After homing the machine's frame runs from minus the travel to zero.
  const travelMm = settings.get(TRAVEL + index) ?? 0;
  const [a, b] = [toUm(axis, 0, 0), toUm(axis, -travelMm, 0)];
  const [low, high] = [Math.min(a, b), Math.max(a, b)];
  if (axis.minUm >= low - TRAVEL_TOLERANCE_UM && axis.maxUm <= high + TRAVEL_TOLERANCE_UM) return;
  throw differ(about, TRAVEL + index, `travel of ${axis.letter}`, `${axis.minUm} to ${axis.maxUm} µm`, `${low} to ${high} µm`);
}

/**
 * Holds the controller's settings against the instrument file: whatever would move the stage to wrong places, or the objective into the chip while
 * homing, is refused with `settingsDiffer`. Speeds and accelerations are not compared: the controller's own are used.
 */
export function requireSettings(settings: Settings, axes: readonly GcodeAxis[], focus: GcodeAxis | undefined, reference: Reference, about: ErrorDetails): void {
  if (settings.get(REPORT_INCHES) === 1) throw differ(about, REPORT_INCHES, 'reports in inches', 0, 1);
  for (const axis of axes) requireAxis(axis, settings, reference, about);
  if (reference !== 'homing') return;
  if (settings.get(HOMING) !== 1) throw differ(about, HOMING, 'homing switched on', 1, settings.get(HOMING) ?? 'nothing');
  if (focus === undefined) return;
  const homesDown = homesLow(focus, settings) === (focus.sign === 1);
  if (homesDown) throw differ(about, HOMING_DIRECTIONS, 'homing of focus', 'away from the chip', 'towards the chip');
}

/** How fast each of the controller's three axes goes; a tighter limit of the instrument file counts. */
export function pacesOf(settings: Settings, axes: readonly GcodeAxis[]): readonly AxisPace[] {
  return [0, 1, 2].map((index) => {
    const own = axes.find((axis) => axisIndex(axis) === index)?.maxSpeedUmPerS ?? Number.POSITIVE_INFINITY;
    return { maxSpeedMmPerS: Math.min((settings.get(MAX_RATE + index) ?? 0) / 60, own / 1000), accelerationMmPerS2: settings.get(ACCELERATION + index) ?? 0 };
  });
}
