import type { Detection, Flake, FlakeVerdict } from '../../planner/flakes/types.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { FrameFault } from '../vision/types.ts';
import type { Examination } from './check/examination.ts';
import type { ChipRecord } from './chipTypes.ts';
import type { CloseUpRecords } from './closeUpTypes.ts';
import type { StoredFile } from './fileTypes.ts';
import type { KnownFlakeRecords } from './knownFlakeTypes.ts';
import type { SecondVerdictRecords } from './secondVerdictTypes.ts';
import type { VerdictRecords } from './verdictTypes.ts';

export type { CalibrationRecord, ChipRecord } from './chipTypes.ts';
export type { CloseUpPicture, CloseUpRecord, CloseUpTerrace } from './closeUpTypes.ts';
export type { StoredFile };
export type { KnownFlakeVisit, VisitMoment } from './knownFlakeTypes.ts';
export type { NewSecondVerdict, SecondVerdict } from './secondVerdictTypes.ts';
export type { Circumstances, NewVerdict, VerdictCommit, VerdictRecord } from './verdictTypes.ts';

export type RunState = 'preflight' | 'scanning' | 'waiting' | 'paused' | 'recovering' | 'parked' | 'finished' | 'failed';

/** One night as it was begun: the texts are kept whole, so that a resume needs no other file. */
export interface RunRecord {
  readonly id: string;
  readonly title: string;
  readonly createdAtMs: number;
  readonly runSheetText: string;
  readonly instrumentText: string;
  readonly plan: ScanPlan;
  readonly state: RunState;
}

export type TileOutcome = 'done' | 'skipped';

/** A tile's end, as it is committed: in one transaction with its detections and the flakes that it changed. */
export interface TileRecord {
  readonly tile: number;
  readonly chip: string;
  readonly outcome: TileOutcome;
  /** Why it was skipped, or what was wrong with its frame. */
  readonly reason?: string;
  readonly fault?: FrameFault;
  readonly centreUm: StagePoint;
  readonly zUm: number;
  readonly takenAtMs: number;
  readonly sharpness: number;
  readonly substrate: readonly number[];
  /** File of the map picture, relative to the data folder; none for a skipped tile. */
  readonly pictureFile?: string;
  readonly detections: readonly Detection[];
}

export interface EventRecord {
  readonly atMs: number;
  readonly kind: string;
  readonly text: string;
}

/** A picture of one flake cut from its best frame, lossless, with a rim of 20 um. */
export interface CropRecord {
  readonly flakeId: string;
  readonly tile: number;
  readonly file: string;
  readonly widthPx: number;
  readonly heightPx: number;
  /** Stage position of the crop's centre and the pixels' way on the stage, to draw outlines over it. */
  readonly centreUm: StagePoint;
  readonly cameraToStageUm: readonly [number, number, number, number];
}

/** A flake in short: enough to know that there is one, and whether it is worth reading whole. */
export interface FlakeHead {
  readonly id: string;
  readonly verdict: FlakeVerdict;
  /** Why it was rejected, where it was. */
  readonly reject?: string;
}

/** A tile without what was found on it. */
export type TileHead = Omit<TileRecord, 'detections'>;

/** What is handed over when a tile is committed. */
export interface TileCommit {
  readonly tile: TileRecord;
  readonly flakes: readonly Flake[];
  readonly removedFlakes: readonly string[];
  readonly crops: readonly CropRecord[];
  /** The chip's own record, with its last tile: a kill in between would leave it unwritten for good. */
  readonly chip?: ChipRecord;
  /** Further files of this tile that are to be kept, relative to the data folder: crops that are not a flake's best. */
  readonly files?: readonly string[];
}

/** The records of one data folder. Every write is durable when the call returns (WAL, synchronous=FULL). */
export interface Records extends VerdictRecords, CloseUpRecords, KnownFlakeRecords, SecondVerdictRecords {
  readonly directory: string;
  beginRun(run: RunRecord): void;
  latestRun(): RunRecord | undefined;
  run(runId: string): RunRecord | undefined;
  setRunState(runId: string, state: RunState, cause: string, atMs: number): void;
  saveChip(runId: string, chip: ChipRecord): void;
  chips(runId: string): readonly ChipRecord[];
  /** Throws when the tile is already recorded: each is recorded exactly once. */
  commitTile(runId: string, commit: TileCommit): void;
  tile(runId: string, tile: number): TileRecord | undefined;
  /** How many tiles are recorded, done or skipped. */
  tileCount(runId: string): number;
  /** All tiles without what was found on them: of a long night that would fill the memory. In order of tile index. */
  tileHeads(runId: string): readonly TileHead[];
  /** In order of tile index. */
  tiles(runId: string): readonly TileRecord[];
  /** Replaces flakes outside a tile's commit: a better ladder read them again. */
  updateFlakes(runId: string, flakes: readonly Flake[]): void;
  flakes(runId: string): readonly Flake[];
  flake(runId: string, id: string): Flake | undefined;
  /** All flakes in short, of a chip or of the whole run, in the order in which they were first recorded. */
  flakeHeads(runId: string, chip?: string): readonly FlakeHead[];
  crop(runId: string, flakeId: string): CropRecord | undefined;
  addEvent(runId: string, event: EventRecord): void;
  events(runId: string): readonly EventRecord[];
  close(): void;
}

/** A change of a run's state, with its cause in words. */
export interface TransitionRecord {
  readonly atMs: number;
  readonly state: RunState;
  readonly cause: string;
}

/** The records as they are opened from a folder, with what checking and listing need beside what a run needs. */
export interface RecordsStore extends Records {
  /** In the order in which they were begun. */
  runIds(): readonly string[];
  transitions(runId: string): readonly TransitionRecord[];
  storedFiles(runId: string): readonly StoredFile[];
  /** Checks the database and reads every row of it, to be held against the files. */
  examine(): Examination;
}
