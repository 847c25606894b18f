import { join } from 'node:path';
import type { Clock, CameraFrame } from '../../drivers/interfaces/index.ts';
import type { Tile } from '../../planner/plan/types.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import type { DetectionPicture } from '../classify/job.ts';
import type { FramePool } from '../classify/pool.ts';
import { hasCode } from '../errors/index.ts';
import { writeDurably, type WriteBytes } from '../records/writeDurably.ts';
import type { FrameMeasurement, FrameToMeasure, OpticalContext } from '../vision/types.ts';

/** A tile's frame, with the same at a shorter exposure where it was partly too bright. */
interface TileFrame {
  readonly kind: 'frame';
  readonly tile: Tile;
  readonly frame: CameraFrame;
  readonly short?: CameraFrame;
  readonly pose: FramePose;
  readonly zUm: number;
  readonly optics: OpticalContext;
}

/** A frame on its way, or a tile that was given up. */
export type TileItem =
  | TileFrame
  | { readonly kind: 'skipped'; readonly tile: Tile; readonly reason: string; readonly atMs: number };

/** A detection's pictures on disk, relative to the data folder: for people where there is one, and the camera's own numbers. */
export type WrittenPicture = Omit<DetectionPicture, 'png' | 'rawPng'> & { readonly file?: string; readonly rawFile: string };

/** What the workers and the disk made of a frame; nothing of it is in the records yet. */
export interface TileWork {
  readonly measurement: FrameMeasurement;
  readonly pictureFile: string;
  /** The whole frame as the camera gave it, where it is kept; then the one at a shorter exposure, where there is one. */
  readonly rawFrameFiles: readonly string[];
  readonly crops: readonly WrittenPicture[];
}

/** The classifier failed on this frame, whoever of the workers tried it: the tile is left out by name, and the night goes on. */
export interface LostFrame {
  readonly lost: unknown;
}

/** What comes out of the workers for one item; nothing for a tile that was given up before. */
export type TileResult = TileWork | LostFrame | undefined;

export interface TileWorkParts {
  readonly clock: Clock;
  readonly pool: FramePool;
  readonly directory: string;
  /** Folder of this run's pictures, relative to `directory`. */
  readonly runFolder: string;
  /** Keeps every whole frame, lossless. */
  readonly rawFrames: boolean;
  /** How bytes get into files, when not in the usual way: a full disk is rehearsed with it. */
  readonly writeBytes?: WriteBytes;
}

/**
 * Time that a frame takes from exposure to commit on a virtual clock: a few tiles' worth, so that several workers have
 * something to do, and the same for every number of workers.
 */
const modelledMs = 400;
/** Width of the map's pictures; the map's finest zoom shows crops, not frames. */
const mapWidthPx = 640;
const cropRimUm = 20;

/** Classifies a frame and writes its pictures, each synced and renamed before anything names it. */
export async function workOnTile(item: TileItem, parts: TileWorkParts): Promise<TileResult> {
  if (item.kind === 'skipped') return undefined;
  return parts.clock.track(measureAndWrite(item, parts).catch(lostFrame), modelledMs);
}

function lostFrame(error: unknown): LostFrame {
  if (!hasCode(error, 'classifierFailed')) throw error;
  return { lost: error };
}

function inputOf({ frame, short, pose, optics }: TileFrame): FrameToMeasure {
  return { frame, ...(short ? { short } : {}), pose, optics };
}

async function measureAndWrite(item: TileFrame, parts: TileWorkParts): Promise<TileWork> {
  const result = await parts.pool.run({ tile: item.tile.index, input: inputOf(item), pictures: { mapWidthPx, cropRimUm, rawFrame: parts.rawFrames } });
  const save = (file: string, bytes: Uint8Array): Promise<void> => writeDurably(join(parts.directory, file), bytes, parts.writeBytes);
  const number = String(item.tile.index).padStart(6, '0');
  // Kept for every tile of the night: `join` of an array makes one plain string, while a path put together piece by piece keeps all its pieces.
  const pictureFile = [parts.runFolder, 'tiles', `${number}.webp`].join('/');
  if (result.mapPicture) await save(pictureFile, result.mapPicture);
  const rawFrameFiles: string[] = [];
  for (const [name, bytes] of [[number, result.rawFrame], [`${number}-short`, result.rawShortFrame]] as const) {
    if (!bytes) continue;
    const file = join(parts.runFolder, 'frames', `${name}.png`);
    await save(file, bytes);
    rawFrameFiles.push(file);
  }
  const crops: WrittenPicture[] = [];
  for (const { png, rawPng, ...picture } of result.detectionPictures) {
    const name = join(parts.runFolder, 'crops', `${number}-${picture.detection}`);
    const [file, rawFile] = [`${name}.png`, `${name}-raw.png`];
    if (png) await save(file, png);
    await save(rawFile, rawPng);
    crops.push({ ...picture, ...(png ? { file } : {}), rawFile });
  }
  return { measurement: result.measurement, pictureFile, rawFrameFiles, crops };
}

/** Whether a crop shows a place on the stage. */
export function showsPlace(crop: WrittenPicture, at: StagePoint): boolean {
  const [m00, m01, m10, m11] = crop.cameraToStageUm;
  const halfWidthUm = (crop.widthPx * (Math.abs(m00) + Math.abs(m01))) / 2;
  const halfHeightUm = (crop.heightPx * (Math.abs(m10) + Math.abs(m11))) / 2;
  return Math.abs(at.xUm - crop.centreUm.xUm) <= halfWidthUm && Math.abs(at.yUm - crop.centreUm.yUm) <= halfHeightUm;
}
