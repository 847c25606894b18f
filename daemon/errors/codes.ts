import type { DriverErrorCode, ErrorDetails } from '../../drivers/interfaces/index.ts';
import type { CalibrationRefusal } from '../../planner/frames/calibration/refusals.ts';
import type { MarksRefusal } from '../../planner/frames/marks.ts';
import type { PlanRefusal } from '../../planner/plan/types.ts';
import type { RunState } from '../records/types.ts';

/** One thing that is wrong in a file that a person wrote. `line` counts from 1; `key` is the way to it, like `chips[0].outline`. */
export interface ConfigProblem {
  readonly line: number;
  readonly key: string;
  readonly message: string;
}

/** One thing that is wrong in a table of numbers. `line` counts from 1; 0 is the whole file. */
export interface TableProblem {
  readonly line: number;
  readonly message: string;
}

/** Configuration, run sheets, frame sets and the command line. */
export interface InputDetails {
  readonly badConfig: { readonly file: string; readonly problems: readonly ConfigProblem[]; readonly checkWith?: 'check' | 'describe' };
  readonly marksRefused: { readonly chip: string } & MarksRefusal;
  readonly planRefused: { readonly refusals: readonly PlanRefusal[] };
  readonly noSuchFile: { readonly file: string };
  readonly unreadableFile: { readonly file: string; readonly reason: string };
  readonly badUsage: { readonly reason: string };
  readonly badTable: { readonly file: string; readonly problems: readonly TableProblem[] };
  readonly unknownMaterial: { readonly material: string; readonly known: readonly string[] };
  readonly unknownTray: { readonly tray: string; readonly known: readonly string[] };
}

/** The data folder. */
export interface RecordsDetails {
  readonly diskFull: { readonly directory: string; readonly wantedBytes?: number; readonly freeBytes?: number };
  readonly alreadyRecorded: { readonly tile: number };
  readonly damagedRecords: { readonly directory: string; readonly table: string; readonly row: string; readonly reason: string };
  readonly otherVersion: { readonly directory: string; readonly found: number; readonly wanted: number };
  readonly inUse: { readonly directory: string };
  readonly writeFailed: { readonly file: string; readonly reason: string };
}

/** The run, and what people ask of it. */
export interface RunDetails {
  readonly noRun: Readonly<Record<never, never>>;
  readonly noPreflight: Readonly<Record<never, never>>;
  readonly preflightUnderWay: { readonly asked: string };
  readonly nightNotReady: { readonly reason: string };
  readonly noSuchRun: { readonly runId: string };
  readonly runActive: { readonly title: string };
  readonly unfinishedNight: { readonly title: string };
  readonly notWhileScanning: { readonly asked: string };
  readonly notInThisState: { readonly asked: string; readonly state: RunState };
  readonly noSuchFlake: { readonly flakeId: string };
  readonly noSuchChip: { readonly chip: string; readonly known: readonly string[] };
  readonly notThisChip: { readonly chip: string; readonly likeness: number };
  readonly cornerNotFound: { readonly chip: string; readonly edges: number };
  readonly doubtfulMatch: { readonly flakeId: string; readonly likeness: number };
  readonly noSuchTerrace: { readonly flakeId: string; readonly terrace: number };
  readonly noSuchVerdict: { readonly flakeId: string; readonly terrace: number };
  readonly cannotResume: { readonly reason: string };
  readonly focusNotFound: {
    readonly chip: string;
    readonly triedUm: number;
    readonly tile?: number;
    /** Of so many places, where some showed focus: too few, or all on one line. */
    readonly points?: { readonly found: number; readonly of: number; readonly least: number; readonly areOnOneLine: boolean };
  };
  /** In the middle of a chip: no place that had shown focus shows it any more. */
  readonly focusLost: { readonly chip: string; readonly foundUm?: number };
  readonly noReachableZ: { readonly chip: string; readonly expectedUm: number; readonly rangeUm: number; readonly zMinUm: number; readonly zMaxUm: number };
  readonly parked: { readonly tile: number; readonly cause: string };
  /** A tile's frame that may be another one when it is taken again: without light, or at full scale. */
  readonly blackFrame: { readonly tile: number };
  readonly fullFrame: { readonly tile: number };
  /** Found before the night began: twice the exposure does not give twice the light. */
  readonly notLinear: { readonly channel: string; readonly found: number; readonly wanted: number; readonly uncertainty: number };
  readonly interrupted: Readonly<Record<never, never>>;
  readonly internal: { readonly reason: string };
}

/** Calibrating the instrument. */
export interface CalibrationDetails {
  readonly calibrationRefused: { readonly procedure: string; readonly refusal: CalibrationRefusal };
}

/** The classifier's workers. */
export interface ClassifierDetails {
  readonly queueFull: { readonly waiting: number };
  readonly workerLost: { readonly exitCode: number };
  readonly classifierFailed: { readonly message: string };
}

/** The door to the browser. */
export interface ServerDetails {
  readonly badMessage: { readonly reason: string };
  readonly messageTooLarge: { readonly bytes: number; readonly maxBytes: number };
  readonly tooManyMessages: { readonly perS: number };
  readonly tooManyBrowsers: { readonly max: number };
  readonly badOrigin: { readonly origin: string };
  readonly tooManyRequests: { readonly waitS: number };
  readonly tooManyGuesses: { readonly waitS: number };
  readonly wrongToken: Readonly<Record<never, never>>;
  readonly notLetIn: Readonly<Record<never, never>>;
  /** `by` holds the controls; left out when nobody does. */
  readonly needsControls: { readonly by?: string };
  readonly controlsAsked: { readonly by: string };
  readonly badTokenFile: { readonly file: string; readonly reason: string };
  readonly badCertificate: { readonly file: string; readonly reason: string };
  readonly needsTls: { readonly host: string };
  readonly notFound: { readonly path: string };
  readonly portInUse: { readonly port: number };
}

/** What has been closed is the same to people whether a device or a part of the daemon says so. */
type SharedDetails = Pick<DriverDetails, 'closed'>;

export type NightjarDetails = InputDetails & RecordsDetails & RunDetails & CalibrationDetails & ClassifierDetails & ServerDetails & SharedDetails;
export type NightjarErrorCode = keyof NightjarDetails;

export type DriverDetails = { readonly [C in DriverErrorCode]: ErrorDetails };
export type PlanDetails = { readonly [C in PlanRefusal['code']]: Extract<PlanRefusal, { readonly code: C }> };

/** Every code that a person can meet, with what belongs to it. Only `closed` comes from two sources. */
export type DetailsByCode = NightjarDetails & DriverDetails & PlanDetails;
export type ErrorCode = keyof DetailsByCode;

/** How the command line ends: 0 well, 1 failed, 2 wrong input, 3 stopped safely with what was done kept, 130 interrupted. */
export type ExitCode = 0 | 1 | 2 | 3 | 130;

/** What a person reads: what happened, what was kept, what to do next. Each part is one or more whole sentences. */
export type Sentence = readonly [happened: string, kept: string, next: string];

export interface ErrorEntry<D> {
  readonly exit: ExitCode;
  readonly say: (details: D) => Sentence;
}
export type EntriesFor<Details> = { readonly [C in keyof Details]: ErrorEntry<Details[C]> };
