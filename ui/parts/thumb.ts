import type { FlakeView, RunView, TileView } from '../../daemon/server/messages.ts';
import { cropPicture } from '../pictures/drawnOut.ts';
import { createPictureStore } from '../pictures/pictureStore.ts';
import { cropPose, tilePose } from '../pictures/pose.ts';
import { stageToPixel } from '../../planner/units/index.ts';
import type { FramePose } from '../../planner/units/index.ts';
import { pixelSizeUm } from '../pictures/pose.ts';

/** Small pictures are all at one scale, so that sizes can be compared down the list. */
export const THUMB_WIDTH_PX = 76;
export const THUMB_HEIGHT_PX = 60;
export const THUMB_UM_PER_PX = 0.6;
export const THUMB_BAR_UM = 10;

/** A picture and where it lies on the stage. */
export interface PlacedPicture {
  readonly source: HTMLCanvasElement | ImageBitmap;
  readonly pose: FramePose;
}

const tilePictures = createPictureStore(24);

/** The flake's own picture or, of what was rejected at once and has none, the map picture of its tile. Rejects when there is neither. */
export async function thumbPicture(view: FlakeView, run: RunView | null, tile: TileView | undefined, drawnOut: boolean): Promise<PlacedPicture> {
  if (view.crop) {
    const picture = await cropPicture(view);
    return { source: drawnOut ? picture.drawnOut : picture.plain, pose: cropPose(view.crop) };
  }
  if (!run || tile?.picture === undefined) throw new Error('there is no picture of it');
  return { source: await tilePictures.get(tile.picture), pose: tilePose(tile, run) };
}

/** Draws a flake's small picture, the flake in the middle. */
export function drawThumb(canvas: HTMLCanvasElement, view: FlakeView, { source, pose }: PlacedPicture): void {
  const context = canvas.getContext('2d');
  if (!context) return;
  const ratio = globalThis.devicePixelRatio;
  canvas.width = Math.round(THUMB_WIDTH_PX * ratio);
  canvas.height = Math.round(THUMB_HEIGHT_PX * ratio);
  const scale = (pixelSizeUm(pose) / THUMB_UM_PER_PX) * ratio * (pose.widthPx / source.width);
  const centre = stageToPixel(pose, view.flake.centreUm);
  const perPx = source.width / pose.widthPx;
  context.imageSmoothingQuality = 'high';
  context.setTransform(scale, 0, 0, scale, canvas.width / 2 - centre.colPx * perPx * scale, canvas.height / 2 - centre.rowPx * perPx * scale);
  context.drawImage(source, 0, 0);
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  const barPx = THUMB_BAR_UM / THUMB_UM_PER_PX;
  context.fillStyle = '#0c0a08';
  context.fillRect(THUMB_WIDTH_PX - barPx - 6, THUMB_HEIGHT_PX - 8, barPx + 2, 4);
  context.fillStyle = '#f3ecdf';
  context.fillRect(THUMB_WIDTH_PX - barPx - 5, THUMB_HEIGHT_PX - 7, barPx, 2);
}
