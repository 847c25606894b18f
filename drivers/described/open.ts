import type { Clock, FieldStop, FocusDrive, Lamp, Stage, Turret } from '../interfaces/index.ts';
import type { OpenWire } from '../line/wire.ts';
import { Dialogue } from './dialogue.ts';
import { describedLamp, describedShutter } from './light.ts';
import { Mover } from './mover.ts';
import { describedFieldStop, describedFocus, describedStage, describedTurret } from './parts.ts';
import type { DevicePlan, MoverPlan, PartPlans } from './plan.ts';
import { partNames, type PartName } from './schema.ts';
import type { Listen } from './spoken.ts';

export interface OpenDescribedOptions {
  readonly openWire: OpenWire;
  readonly clock: Clock;
  /** The parts that will be used, and closed; all that the description has when left out. */
  readonly use?: readonly PartName[];
  /** Told everything that is sent and heard. */
  readonly listen?: Listen;
}

/** What a described device is made of. A shutter has the shape of a lamp that is on or off, a filter wheel that of a turret. */
export interface DescribedParts {
  readonly stage?: Stage;
  readonly focus?: FocusDrive;
  readonly turret?: Turret;
  readonly filterWheel?: Turret;
  readonly lamp?: Lamp;
  readonly shutter?: Lamp;
  readonly fieldStop?: FieldStop;
}

export interface DescribedDevice {
  /** What it said of itself on opening, by the names in the description. */
  readonly identity: Readonly<Record<string, number | string>>;
  readonly parts: DescribedParts;
  /** Stops what moves, says the closing words and frees the line. */
  close(): Promise<void>;
}

/** Calls `last` when the last of so many parts has been closed, each counted once. */
class Closings {
  readonly #left: Set<PartName>;
  readonly #last: () => Promise<void>;

  constructor(names: readonly PartName[], last: () => Promise<void>) {
    this.#left = new Set(names);
    this.#last = last;
  }

  of(name: PartName): () => Promise<void> {
    return async () => {
      if (this.#left.delete(name) && this.#left.size === 0) await this.#last();
    };
  }
}

function makeParts(plans: PartPlans, dialogue: Dialogue, clock: Clock, closings: Closings): DescribedParts {
  const mover = (plan: MoverPlan): Mover => new Mover(plan, dialogue, clock);
  const { stage, focus, turret, filterWheel, lamp, shutter, fieldStop } = plans;
  return {
    ...(stage && { stage: describedStage(mover(stage.mover), stage, closings.of('stage')) }),
    ...(focus && { focus: describedFocus(mover(focus.mover), focus, closings.of('focus')) }),
    ...(turret && { turret: describedTurret('turret', mover(turret.mover), turret.positions, closings.of('turret')) }),
    ...(filterWheel && { filterWheel: describedTurret('filterWheel', mover(filterWheel.mover), filterWheel.positions, closings.of('filterWheel')) }),
    ...(lamp && { lamp: describedLamp(lamp, dialogue, clock, closings.of('lamp')) }),
    ...(shutter && { shutter: describedShutter(shutter, dialogue, clock, closings.of('shutter')) }),
    ...(fieldStop && { fieldStop: describedFieldStop(mover(fieldStop.mover), closings.of('fieldStop')) }),
  };
}

/**
 * Opens the line, sees that the described device is at its end, and hands out its parts. The line is freed when the last part in use has
 * been closed; after it was lost, the next call opens it anew. Rejects with `noSuchLine`, `lineBusy`, `noAccess`, `noAnswer`, `garbled`,
 * `wrongDevice`, `badReply`, `deviceError`, `timeout`, `disconnected`.
 */
export async function openDescribed(plan: DevicePlan, { openWire, clock, use = partNames, listen = () => undefined }: OpenDescribedOptions): Promise<DescribedDevice> {
  const dialogue = new Dialogue({ plan, openWire, clock, listen });
  await dialogue.connect();
  const names = partNames.filter((name) => plan.parts[name] && use.includes(name));
  const plans: PartPlans = Object.fromEntries(names.map((name) => [name, plan.parts[name]]));
  const parts = makeParts(plans, dialogue, clock, new Closings(names, () => dialogue.close()));
  return {
    identity: Object.fromEntries(dialogue.identity),
    parts,
    async close() {
      for (const part of Object.values(parts)) await (part as { close(): Promise<void> }).close();
      await dialogue.close();
    },
  };
}
