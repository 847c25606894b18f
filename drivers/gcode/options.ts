import type { Clock } from '../interfaces/index.ts';
import type { OpenWire } from '../line/wire.ts';
import type { GcodeAxis } from './axis.ts';
import type { Reference } from './settings.ts';

/** What is worth remembering between two runs of the program. Machine mm in the order X, Y, Z. */
export interface Remembered {
  readonly restMm: readonly number[];
  readonly referenceMm: readonly number[];
}

/** Where the last place of rest is kept. Without it, the stage must be homed (or put at its reference place) after every start. */
export interface RestMemory {
  recall(): Remembered | undefined;
  /** Called with `undefined` as soon as something is about to move, and with the place once it rests: a crash under way leaves nothing to trust. */
  keep(remembered: Remembered | undefined): void;
}

export interface GcodeOptions {
  readonly clock: Clock;
  readonly openWire: OpenWire;
  /** How people know the line; goes into the details of errors. */
  readonly line: { readonly line: string; readonly baudRate?: number };
  readonly stage?: { readonly x: GcodeAxis; readonly y: GcodeAxis };
  readonly focus?: GcodeAxis;
  /** `byHand` for controllers without homing switches. */
  readonly reference: Reference;
  readonly memory?: RestMemory;
  /** How long a board may take to start when its port is opened. */
  readonly bootWithinMs?: number;
  readonly homeWithinMs?: number;
}

export function axesOf({ stage, focus }: GcodeOptions): readonly GcodeAxis[] {
  return [...(stage ? [stage.x, stage.y] : []), ...(focus ? [focus] : [])];
}
