import type { Flake } from '../../planner/flakes/types.ts';
import type { ChipFrame } from '../../planner/frames/chipFrame.ts';
import { showsPlace, type TileItem, type TileResult, type TileWork, type WrittenPicture } from '../pipeline/tileWork.ts';
import type { CropRecord, TileRecord } from '../records/types.ts';
import type { NightBoard } from './board.ts';
import type { ChipStates } from './chipStates.ts';
import type { NightContext } from './context.ts';
import { isOnChip } from './flakeShelf.ts';
import { flakeView, tileView } from './views.ts';

/** Time that fitting a ladder takes on a virtual clock. */
const fitMs = 1000;

export interface Committed {
  readonly tile: TileRecord;
  /** Flakes of this tile that were not flagged before and are now. */
  readonly newlyFlagged: readonly Flake[];
}

/** Puts one tile into the records, whole or not at all, then on the board. Called in tile order. */
export class TileCommitter {
  private readonly context: NightContext;
  private readonly chips: ChipStates;
  private readonly board: NightBoard;
  private readonly frames: ReadonlyMap<string, ChipFrame>;

  constructor(context: NightContext, chips: ChipStates, board: NightBoard, frames: ReadonlyMap<string, ChipFrame>) {
    this.context = context;
    this.chips = chips;
    this.board = board;
    this.frames = frames;
  }

  /** Throws what the records throw (`diskFull`, `alreadyRecorded`, ...): then nothing of the tile is kept. */
  async commit(item: TileItem, result: TileResult): Promise<Committed> {
    const { records, runId } = this.context;
    const work = result && 'measurement' in result ? result : undefined;
    const tile = recordOf(item, work, this.chips);
    if (work) this.chips.addFlat(tile.chip, work.measurement);
    const { changed, removed } = await this.add(tile);
    const crops = changed.filter((flake) => flake.bestTile === tile.tile).flatMap((flake) => cropOf(flake, work?.crops ?? []));
    records.commitTile(runId, { tile, flakes: changed, removedFlakes: removed, crops, files: work ? filesOf(work) : [], ...(this.chips.isDone(tile.chip) ? { chip: this.chips.record(tile.chip) } : {}) });
    const newlyFlagged = changed.filter((flake) => flake.verdict === 'flagged' && !this.board.isFlagged(flake.id));
    this.show(tile, changed, removed);
    return { tile, newlyFlagged };
  }

  /** The ladder is fitted by a worker: on the thread that drives the stage it would take a second. */
  private async add(tile: TileRecord) {
    const joined = this.chips.join(tile);
    const { request } = joined;
    if (!request) return this.chips.settle(joined, undefined);
    return this.chips.settle(joined, await this.context.instrument.clock.track(this.chips.fit(request), fitMs));
  }

  private show(tile: TileRecord, changed: readonly Flake[], removed: readonly string[]): void {
    const { records, runId } = this.context;
    const view = tileView(tile);
    this.board.setTile(view);
    const tilesDone = (this.board.chip(tile.chip)?.tilesDone ?? 0) + 1;
    const hasGrown = changed.length > 0;
    this.board.setChip(tile.chip, { tilesDone }, hasGrown ? this.chips.ladder(tile.chip) : undefined, hasGrown ? this.chips.calibration(tile.chip) : undefined);
    this.board.setFlakes(
      changed.map((flake) => flakeView(flake, isOnChip(flake) ? records.crop(runId, flake.id) : undefined, this.frames.get(flake.chip))),
      removed,
    );
  }

}

/** Every file of a tile beside its map picture. */
function filesOf({ rawFrameFiles, crops }: TileWork): readonly string[] {
  return [...rawFrameFiles, ...crops.flatMap((crop) => [crop.file, crop.rawFile])].filter((file) => file !== undefined);
}

function recordOf(item: TileItem, work: TileWork | undefined, chips: ChipStates): TileRecord {
  const { tile } = item;
  const common = { tile: tile.index, chip: tile.chip };
  if (item.kind === 'skipped' || !work) {
    const reason = item.kind === 'skipped' ? item.reason : 'classifierFailed';
    const takenAtMs = item.kind === 'skipped' ? item.atMs : item.frame.takenAtMs;
    return { ...common, outcome: 'skipped', reason, centreUm: tile.centreUm, zUm: 0, takenAtMs, sharpness: 0, substrate: [], detections: [] };
  }
  const { measurement } = work;
  return {
    ...common,
    outcome: 'done',
    ...(measurement.fault ? { fault: measurement.fault, reason: measurement.fault } : {}),
    centreUm: item.pose.centreUm,
    zUm: item.zUm,
    takenAtMs: item.frame.takenAtMs,
    sharpness: measurement.sharpness,
    substrate: measurement.substrate,
    pictureFile: work.pictureFile,
    detections: chips.judged(measurement.detections, item.pose),
  };
}

/** The picture of a flake among those of the tile that shows it best: the smallest one that shows its centre. */
function cropOf(flake: Flake, crops: readonly WrittenPicture[]): CropRecord[] {
  const [best] = crops.filter((crop) => crop.file !== undefined && showsPlace(crop, flake.centreUm)).sort((a, b) => a.widthPx * a.heightPx - b.widthPx * b.heightPx);
  if (best?.file === undefined) return [];
  const { file, widthPx, heightPx, centreUm, cameraToStageUm } = best;
  return [{ flakeId: flake.id, tile: flake.bestTile, file, widthPx, heightPx, centreUm, cameraToStageUm }];
}
