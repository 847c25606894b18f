import type { Flake } from '../../planner/flakes/types.ts';
import { NightjarError } from '../errors/index.ts';
import { examineTables } from './check/examine.ts';
import { closeUpFiles, closeUpTable } from './closeUpTable.ts';
import type { RecordsContext } from './context.ts';
import { openDatabase } from './database.ts';
import { diskError } from './diskErrors.ts';
import { fingerprint } from './fingerprint.ts';
import { flakeTable } from './flakeTable.ts';
import { makeFolderNow } from './folders.ts';
import { guarded } from './guard.ts';
import { knownFlakeTable } from './knownFlakeTable.ts';
import type { KnownFlakeRecords } from './knownFlakeTypes.ts';
import { takeLock } from './lock.ts';
import { runTable } from './runTable.ts';
import { secondVerdictTable } from './secondVerdictTable.ts';
import type { SecondVerdictRecords } from './secondVerdictTypes.ts';
import { tileTable } from './tileTable.ts';
import type { CloseUpRecord, RecordsStore, TileCommit, VerdictCommit } from './types.ts';
import { verdictTable } from './verdictTable.ts';

export interface OpenOptions {
  /** Only looks: takes no lock, writes nothing, and leaves a daemon that writes to the same folder alone. */
  readonly readOnly?: boolean;
  /** The database grows no further than this many bytes (then `diskFull`); for a quota, and to rehearse a full disk. */
  readonly maxBytes?: number;
}

/**
 * Opens the records of a data folder, which is made when it is not there. One process at a time may write to it.
 * Throws `inUse`, `otherVersion`, `damagedRecords`, `diskFull`, `writeFailed`; for reading only also `noRun`.
 */
export function openRecords(directory: string, options: OpenOptions = {}): RecordsStore {
  const readOnly = options.readOnly === true;
  const unlock = readOnly ? () => undefined : lockFolder(directory);
  try {
    const db = openDatabase(directory, { readOnly, ...(options.maxBytes === undefined ? {} : { maxBytes: options.maxBytes }) });
    return guarded(directory, () => store({ db, directory }, unlock));
  } catch (error) {
    unlock();
    throw error;
  }
}

function lockFolder(directory: string): () => void {
  try {
    makeFolderNow(directory);
  } catch (error) {
    throw diskError(error, directory);
  }
  return takeLock(directory);
}

interface Tables {
  readonly runs: ReturnType<typeof runTable>;
  readonly tiles: ReturnType<typeof tileTable>;
  readonly flakes: ReturnType<typeof flakeTable>;
  readonly verdicts: ReturnType<typeof verdictTable>;
  readonly closeUps: ReturnType<typeof closeUpTable>;
  readonly knownFlakes: ReturnType<typeof knownFlakeTable>;
  readonly seconds: ReturnType<typeof secondVerdictTable>;
}

/** Everything of one tile, inside a transaction. */
function writeCommit({ runs, tiles, flakes }: Tables, directory: string, runId: string, commit: TileCommit): void {
  const { tile, crops, files = [] } = commit;
  const named = [tile.pictureFile, ...crops.map((crop) => crop.file), ...files].filter((file) => file !== undefined);
  runs.known(runId);
  for (const file of new Set(named)) tiles.keepFile(runId, fingerprint(directory, file));
  tiles.insert(runId, tile);
  for (const flake of commit.flakes) flakes.put(runId, flake);
  for (const id of commit.removedFlakes) flakes.remove(runId, id);
  for (const crop of crops) flakes.putCrop(runId, crop);
  if (commit.chip) runs.saveChip(runId, commit.chip);
}

/** What a person said, with what is read otherwise because of it, inside a transaction. */
function writeVerdicts({ runs, flakes, verdicts }: Tables, runId: string, commit: VerdictCommit): void {
  for (const seq of commit.withdrawn) verdicts.withdraw(runId, seq, commit.atMs);
  for (const verdict of commit.given) verdicts.insert(runId, verdict);
  for (const flake of commit.flakes) flakes.put(runId, flake);
  for (const chip of commit.chips) runs.saveChip(runId, chip);
}

/** A close-up with the files that it names, inside a transaction. */
function writeCloseUp({ tiles, closeUps }: Tables, directory: string, runId: string, closeUp: CloseUpRecord): void {
  for (const file of closeUpFiles(closeUp)) tiles.keepFile(runId, fingerprint(directory, file));
  closeUps.insert(runId, closeUp);
}

/** Visits to the known flake and second verdicts. */
function constancyStore({ runs, knownFlakes, seconds }: Tables, atOnce: <T>(work: () => T) => T): KnownFlakeRecords & SecondVerdictRecords {
  const ofKnown = <T>(runId: string, work: () => T): T => atOnce(() => {
    runs.known(runId);
    return work();
  });
  return {
    putKnownFlake: (runId, visit) => ofKnown(runId, () => knownFlakes.put(runId, visit)),
    knownFlake: (runId) => knownFlakes.ofRun(runId),
    knownFlakeBefore: knownFlakes.before,
    addSecondVerdict: (runId, verdict, instead) => ofKnown(runId, () => {
      if (instead !== undefined) seconds.withdraw(runId, instead, verdict.atMs);
      return seconds.insert(runId, verdict);
    }),
    withdrawSecondVerdict: (runId, seq, atMs) => ofKnown(runId, () => seconds.withdraw(runId, seq, atMs)),
    secondVerdicts: seconds.of,
  };
}

function store(context: RecordsContext, unlock: () => void): RecordsStore {
  const { db, directory } = context;
  const tables: Tables = { runs: runTable(context), tiles: tileTable(context), flakes: flakeTable(context), verdicts: verdictTable(context), closeUps: closeUpTable(context), knownFlakes: knownFlakeTable(context), seconds: secondVerdictTable(context) };
  const { runs, tiles, flakes, verdicts } = tables;
  /** All or nothing, and on the disk when it returns. */
  const atOnce = <T>(work: () => T): T => guarded(directory, () => db.transaction(work).immediate());
  const ofKnown = (runId: string, work: () => void): void => atOnce(() => {
    runs.known(runId);
    work();
  });
  return {
    directory,
    beginRun: (run) => atOnce(() => {
      if (runs.byId(run.id)) throw new NightjarError('internal', { reason: `a night called "${run.id}" is recorded already` });
      runs.begin(run);
    }),
    latestRun: runs.latest,
    run: runs.byId,
    runIds: runs.ids,
    setRunState: (runId, state, cause, atMs) => atOnce(() => runs.setState(runId, state, cause, atMs)),
    transitions: (runId) => runs.transitions(runId),
    saveChip: (runId, chip) => ofKnown(runId, () => runs.saveChip(runId, chip)),
    chips: (runId) => runs.chips(runId),
    commitTile: (runId, commit) => atOnce(() => writeCommit(tables, directory, runId, commit)),
    tileCount: (runId) => guarded(directory, () => tiles.count(runId)),
    tile: (runId, tile) => tiles.one(runId, tile),
    tileHeads: (runId) => tiles.heads(runId),
    tiles: (runId) => tiles.ofRun(runId),
    updateFlakes: (runId, changed: readonly Flake[]) => ofKnown(runId, () => changed.forEach((flake) => flakes.put(runId, flake))),
    flakes: (runId) => flakes.ofRun(runId),
    flake: (runId, id) => flakes.one(runId, id),
    flakeHeads: (runId, chip) => (chip === undefined ? flakes.heads(runId) : flakes.headsOfChip(runId, chip)),
    crop: (runId, flakeId) => flakes.cropOf(runId, flakeId),
    addEvent: (runId, event) => ofKnown(runId, () => runs.addEvent(runId, event)),
    events: (runId) => runs.events(runId),
    commitVerdicts: (runId, commit) => ofKnown(runId, () => writeVerdicts(tables, runId, commit)),
    verdicts: (runId) => verdicts.ofRun(runId),
    labels: (under, pending) => verdicts.labels(under, pending),
    commitCloseUp: (runId, closeUp) => ofKnown(runId, () => writeCloseUp(tables, directory, runId, closeUp)),
    closeUps: (runId) => tables.closeUps.ofRun(runId),
    ...constancyStore(tables, atOnce),
    closeUpsOf: (runId, flakeId) => tables.closeUps.ofFlake(runId, flakeId),
    storedFiles: (runId) => tiles.files(runId),
    examine: () => examineTables(context),
    close: () => {
      db.close();
      unlock();
    },
  };
}
