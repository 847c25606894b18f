import { join } from 'node:path';
import sharp from 'sharp';
import { diagonalUm } from '../../planner/focus/frameFocus.ts';
import { binned, levelled, type PlacedPicture } from '../../planner/frames/placedPicture.ts';
import { distanceUm, type FramePose, type StagePoint } from '../../planner/units/index.ts';
import type { Records, TileRecord } from '../records/types.ts';

/** Pictures are compared in pixels of about this size or larger: as fine as the map's pictures are. */
export const comparedWidthPx = 640;
/** Light that changes over more than this many of those pixels is not of the chip. */
export const levelRadiusPx = 40;
/** Decoded pictures kept at one time: those of a few fields. */
const mostKept = 24;

/** The pictures that a night took of one chip, as the records keep them: where they were taken, levelled, a few of them at hand. */
export class ChipPictures {
  readonly tiles: readonly TileRecord[];
  private readonly directory: string;
  private readonly poseOf: (centreUm: StagePoint) => FramePose;
  private readonly kept = new Map<number, PlacedPicture>();

  /** @param poseOf how a frame of that night with this centre lay on the stage */
  constructor(records: Pick<Records, 'directory' | 'tiles'>, runId: string, chip: string, poseOf: (centreUm: StagePoint) => FramePose) {
    this.directory = records.directory;
    this.poseOf = poseOf;
    this.tiles = records.tiles(runId).filter((tile) => tile.chip === chip && tile.pictureFile !== undefined && tile.fault === undefined);
  }

  /** Those that show something within `reachUm` of a place on the stage of that night, the nearest first. */
  async near(placeUm: StagePoint, reachUm: number): Promise<readonly PlacedPicture[]> {
    const halfUm = diagonalUm(this.poseOf(placeUm)) / 2;
    const shown = this.tiles.filter((tile) => distanceUm(tile.centreUm, placeUm) <= halfUm + reachUm).sort((a, b) => distanceUm(a.centreUm, placeUm) - distanceUm(b.centreUm, placeUm));
    const pictures: PlacedPicture[] = [];
    for (const tile of shown) pictures.push(await this.picture(tile));
    return pictures;
  }

  private async picture(tile: TileRecord): Promise<PlacedPicture> {
    const known = this.kept.get(tile.tile);
    if (known) return known;
    const { data, info } = await sharp(join(this.directory, tile.pictureFile ?? '')).removeAlpha().raw().toBuffer({ resolveWithObject: true });
    const grey = Float32Array.from({ length: info.width * info.height }, (_, i) => data[i * info.channels + (info.channels >> 1)] ?? 0);
    const frame = this.poseOf(tile.centreUm);
    const scale = frame.widthPx / info.width;
    const [m00, m01, m10, m11] = frame.cameraToStageUm;
    const pose: FramePose = { centreUm: frame.centreUm, cameraToStageUm: [m00 * scale, m01 * scale, m10 * scale, m11 * scale], widthPx: info.width, heightPx: info.height };
    const placed = compared({ picture: { widthPx: info.width, heightPx: info.height, data: grey }, pose });
    if (this.kept.size >= mostKept) this.kept.delete(this.kept.keys().next().value ?? -1);
    this.kept.set(tile.tile, placed);
    return placed;
  }
}

/** A picture as all are compared: in large pixels, without uneven light. */
export function compared(placed: PlacedPicture): PlacedPicture {
  const { picture, pose } = binned(placed, Math.max(1, Math.floor(placed.picture.widthPx / comparedWidthPx)));
  return { picture: levelled(picture, levelRadiusPx), pose };
}
