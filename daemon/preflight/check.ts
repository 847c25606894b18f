import type { Instrument } from '../../drivers/interfaces/index.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { OpticalPath } from '../config/resolve.ts';
import type { RunSheet } from '../config/runSheet.ts';
import type { Finding } from '../doctor/finding.ts';
import type { Surroundings } from '../doctor/surroundings.ts';
import type { TravelLimits } from '../run/approach.ts';

/** What the records of the data folder say. */
export interface RecordsFacts {
  /** Why they cannot be read; undefined when they can, or when there are none yet. */
  readonly trouble?: string;
  /** What the database finds wrong with itself. */
  readonly problems: readonly string[];
  /** Title of a night that has not come to its end. */
  readonly unfinished?: string;
  /** What the last nights were lit with, the latest first: `survey at 60 %` as name and intensity. */
  readonly lampBefore: readonly { readonly path: string; readonly intensity: number }[];
}

/** How long so many bytes took to be on the disk for good. */
export interface WriteTrial {
  readonly bytes: number;
  readonly ms: number;
}

/** The computer's side of a night, as the preflight sees it. */
export interface Ground {
  readonly surroundings: Pick<Surroundings, 'now' | 'facts'>;
  readonly directory: string;
  freeBytes(): Promise<number>;
  /** Writes a few MB into the data folder, syncs and removes them. */
  tryWriting(): Promise<WriteTrial>;
  records(): RecordsFacts;
}

/** What a person says before. */
export interface Told {
  /** ms since 1970. */
  readonly lampOnSinceMs?: number;
  /** The night is to be over by then, ms since 1970. */
  readonly endBeforeMs?: number;
}

/** Everything that a check may look at and use. */
export interface Bench {
  /** Behind the safety gate. */
  readonly instrument: Instrument;
  readonly config: InstrumentConfig;
  readonly sheet: RunSheet;
  readonly plan: ScanPlan;
  readonly path: OpticalPath;
  readonly travel: TravelLimits;
  readonly ground: Ground;
  readonly told: Told;
  readonly signal: AbortSignal;
}

/** What a check does to the instrument: only asks and reads, switches the light, or moves. */
export type Needs = 'nothing' | 'light' | 'motion';

/** One thing to look at before the night. A rejection becomes a finding of its own; the checks after it are run all the same. */
export interface PreflightCheck {
  readonly name: string;
  readonly needs: Needs;
  look(bench: Bench): Promise<readonly Finding[]>;
}
