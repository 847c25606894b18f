import type { Clock } from '../../drivers/interfaces/index.ts';
import { CloseUps } from '../closeUps/pass.ts';
import { closeUpContext } from '../closeUps/path.ts';
import { FramePipeline } from '../pipeline/framePipeline.ts';
import type { TileRecord } from '../records/types.ts';
import { workOnTile, type TileItem, type TileResult } from '../pipeline/tileWork.ts';
import type { NightBoard } from './board.ts';
import { ChipStates } from './chipStates.ts';
import { TileCommitter, type Committed } from './committer.ts';
import type { NightContext } from './context.ts';
import { RunExecutor } from './executor.ts';
import { recordedShelf } from './flakeShelf.ts';
import { newRun, type RunMachine } from './machine.ts';
import { LampWatch } from './lampWatch.ts';
import { NightActivities } from './nightActivities.ts';
import { takeBack } from './recover.ts';
import { Reporter } from './reporter.ts';
import { UselessTiles } from './uselessTiles.ts';
import { Watchdog } from './watchdog.ts';
import { chipFrames, plannedTileView, runView, tileView } from './views.ts';

/** Frames on their way through the classifier at one time: as many as the stage takes while a ladder is fitted, so that it need not wait for that. */
const framesOnTheWay = 8;

/** One night, from its first or its next tile to its end. */
export class Night {
  readonly context: NightContext;
  private readonly executor: RunExecutor;
  private readonly reporter: Reporter;
  private readonly watch = new UselessTiles();
  private readonly lamp = new LampWatch();

  /**
   * Shows the night on the board as the records have it, ready to run.
   * @param waitingClock the time that people wait by, for what is left
   * @param watchClock the time that the watchdog goes by
   */
  constructor(context: NightContext, board: NightBoard, waitingClock: Clock, watchClock: Clock = context.instrument.clock) {
    this.context = context;
    const frames = chipFrames(context);
    const chips = new ChipStates(context);
    const done = restore(context, chips);
    showRecorded(context, board, frames);
    for (const chip of context.plan.chips) {
      board.setChip(chip.name, { tilesDone: chip.tiles.filter((tile) => done.has(tile.index)).length }, chips.ladder(chip.name), chips.calibration(chip.name));
    }
    const watchdog = new Watchdog(watchClock);
    this.reporter = new Reporter({ context, board, waitingClock, alreadyRecorded: done.size, isAlive: () => watchdog.alive() });
    const committer = new TileCommitter(context, chips, board, frames);
    const { pool, records, runId, sheet, writeBytes } = context;
    const parts = { clock: context.instrument.clock, pool, directory: records.directory, runFolder: `runs/${runId}`, rawFrames: sheet.keep.rawFrames, ...(writeBytes ? { writeBytes } : {}) };
    const pipeline = new FramePipeline<TileItem, TileResult>({
      bound: framesOnTheWay,
      process: (item) => workOnTile(item, parts),
      commit: async (item, result) => {
        if (result && 'lost' in result) this.reporter.trouble(result.lost);
        this.committed(await committer.commit(item, result));
      },
      failed: (error) => this.reporter.recordsFailed(error, (code) => this.executor.send({ type: 'recordsFailed', code })),
    });
    const todo = context.plan.chips.flatMap((chip) => chip.tiles.filter((tile) => !done.has(tile.index)).map((tile) => ({ tile: tile.index, chip: chip.name })));
    const again = closeUpContext(context);
    const closeUps = again && new CloseUps(again, chips, (closeUp) => this.reporter.closeUp(closeUp));
    const activities = new NightActivities(context, chips, pipeline, this.reporter, (event) => this.executor.send(event), todo, closeUps);
    this.executor = new RunExecutor(newRun(todo, closeUps !== undefined || context.config.knownFlake !== undefined), activities, watchdog);
    this.reporter.begin(this.executor.state);
  }

  get state(): RunMachine {
    return this.executor.state;
  }

  /** Runs to the end: finished, failed or parked. */
  run(): Promise<RunMachine> {
    return this.executor.run();
  }

  pause(): void {
    this.executor.send({ type: 'pauseAsked' });
  }

  /** Light and camera as the night has them, whatever was looked at meanwhile. Rejects when they cannot be set. */
  takeBack(): Promise<void> {
    return takeBack(this.context, (error) => void this.reporter.trouble(error));
  }

  goOn(): void {
    this.lamp.beginAnew();
    this.executor.send({ type: 'goOnAsked' });
  }

  /** Halts the motion at once and parks. A convenience, not a safety device. */
  stop(): Promise<void> {
    return this.executor.stop();
  }

  private committed(committed: Committed): void {
    this.reporter.committed(committed);
    const code = this.watch.troubleAfter(committed.tile);
    if (code !== undefined) this.executor.send({ type: 'framesUseless', code });
    this.watchLamp(committed.tile);
  }

  private watchLamp(tile: TileRecord): void {
    const chip = this.context.sheet.chips.find(({ name }) => name === tile.chip);
    const word = this.lamp.after(tile, `${chip?.substrate ?? ''} ${chip?.oxideNm ?? 0}`);
    if (!word) return;
    this.reporter.lamp(word);
    if (word.kind === 'faded') this.executor.send({ type: 'framesUseless', code: 'lampFaded' });
  }
}

/** Replays what the records hold, in tile order, so that flakes and ladder stand as they stood. Returns the tiles already recorded. */
function restore(context: NightContext, chips: ChipStates): ReadonlySet<number> {
  const { records, runId } = context;
  const done = new Set(records.tileHeads(runId).map(({ tile }) => tile));
  // One at a time: whole, those of a long night would fill the memory.
  for (const index of done) {
    const tile = records.tile(runId, index);
    if (tile) chips.add(tile);
  }
  return done;
}

/** Puts a night from the records on the board: what was planned, done and found. */
export function showRecorded(context: NightContext, board: NightBoard, frames = chipFrames(context)): void {
  const { records, runId, plan } = context;
  const done = new Map(records.tileHeads(runId).map((tile) => [tile.tile, tileView(tile)]));
  const tiles = plan.chips.flatMap((chip) => chip.tiles.map((tile) => done.get(tile.index) ?? plannedTileView(tile)));
  board.show(runView(context, frames, records.run(runId)?.createdAtMs ?? 0), tiles, recordedShelf(context, frames), records.events(runId));
}
