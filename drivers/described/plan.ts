import type { StageBox } from '../../planner/units/index.ts';
import type { Pattern } from './pattern.ts';
import type { Description } from './schema.ts';
import type { NumberFormat, Scale } from './scale.ts';
import type { Template } from './template.ts';

// A description made ready for use: templates and patterns read, checked and in place.

/** One command and what should come back. */
export interface Step {
  readonly send: Template;
  /** Sent behind it; nothing for a bare command. */
  readonly terminator: string;
  readonly expect: Pattern | undefined;
  readonly followedBy: Pattern | undefined;
  /** Its own error patterns, then the device's. */
  readonly errors: readonly Pattern[];
  readonly replyWithinMs: number;
  /** A repeat does no harm: a question, or a command that names where to be. */
  readonly isRepeatable: boolean;
  /** Part of a motion: after a stop, or when the position is lost, it is never sent again by itself. */
  readonly isMotion: boolean;
}

export type FailureMeaning = 'alarm' | 'stalled' | 'error';

/** One question that tells whether something moves. */
export interface Check {
  readonly ask: Step;
  readonly busy: readonly Pattern[];
  readonly done: readonly Pattern[];
  readonly failed: readonly { readonly pattern: Pattern; readonly means: FailureMeaning }[];
}

export interface DonePlan {
  readonly checks: readonly Check[];
  readonly everyMs: number;
  readonly withinMs: number;
}

/** A question with two kinds of answer. */
export interface YesNo {
  readonly ask: Step;
  readonly yes: readonly Pattern[];
  readonly no: readonly Pattern[];
}

export interface AxisPlan {
  /** Its name in templates: `x`, `position`. */
  readonly name: string;
  readonly scale: Scale;
}

export interface SpeedPlan {
  readonly format: NumberFormat;
  /** Units of the device in one um/s along the way. */
  readonly unitsPerUmPerS: number;
  /** Nothing where {speed} stands in the move itself. */
  readonly set: readonly Step[];
}

export interface MoverPlan {
  readonly device: string;
  readonly axes: readonly AxisPlan[];
  readonly tolerance: number;
  readonly position: readonly Step[];
  readonly moveTo: readonly Step[];
  readonly isRelative: boolean;
  /** None for what has said that it has none. */
  readonly stop: readonly Step[];
  readonly home: { readonly steps: readonly Step[]; readonly withinMs: number } | undefined;
  /** Where a person says where it is. */
  readonly takeReference: readonly Step[] | undefined;
  readonly done: DonePlan;
  readonly reference: YesNo | undefined;
  /** Where the position can be lost: stage and focus drive. */
  readonly canBeLost: boolean;
  readonly maxSpeedUmPerS: number | undefined;
  readonly speed: SpeedPlan | undefined;
}

export interface LampPlan {
  readonly scale: Scale;
  readonly maxIntensity: number;
  readonly set: readonly Step[];
  readonly off: readonly Step[] | undefined;
  readonly read: readonly Step[] | undefined;
  readonly settleMs: number;
}

export interface ShutterPlan {
  readonly open: readonly Step[];
  readonly shut: readonly Step[];
  readonly state: YesNo;
  readonly settleMs: number;
}

export interface PartPlans {
  readonly stage?: { readonly mover: MoverPlan; readonly travel: StageBox };
  readonly focus?: { readonly mover: MoverPlan; readonly zMinUm: number; readonly zMaxUm: number };
  readonly turret?: { readonly mover: MoverPlan; readonly positions: number };
  readonly filterWheel?: { readonly mover: MoverPlan; readonly positions: number };
  readonly fieldStop?: { readonly mover: MoverPlan };
  readonly lamp?: LampPlan;
  readonly shutter?: ShutterPlan;
}

export type Meaning = Description['unsolicited'][number]['means'];

export interface DevicePlan {
  readonly maker: string;
  readonly model: string;
  readonly line: {
    readonly replyTerminator: string;
    readonly echo: boolean;
    readonly delayMs: number;
    readonly settleMs: number;
    readonly retries: number;
    readonly maxReplyCharacters: number;
  };
  readonly identify: Step;
  readonly opening: readonly Step[];
  readonly closing: readonly Step[];
  readonly errorQuery: { readonly ask: Step; readonly good: readonly Pattern[]; readonly bad: readonly Pattern[] } | undefined;
  readonly unsolicited: readonly { readonly pattern: Pattern; readonly means: Meaning }[];
  readonly parts: PartPlans;
}
