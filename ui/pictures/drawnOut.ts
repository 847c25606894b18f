import type { FlakeView } from '../../daemon/server/messages.ts';
import type { FramePose } from '../../planner/units/index.ts';
import { createPictureStore } from './pictureStore.ts';
import { cropPose, insideOutline, outlineInPixels } from './pose.ts';
import { DRAWN_OUT, drawOut, substrateLevels } from './stretch.ts';

/** A picture ready to be drawn, as it is stored and with its contrast drawn out. */
export interface ReadyPicture {
  readonly plain: HTMLCanvasElement | ImageBitmap;
  readonly drawnOut: HTMLCanvasElement;
}

const CROPS_KEPT = 160;
const store = createPictureStore(24);
const crops = new Map<string, Promise<ReadyPicture>>();

function onCanvas(picture: ImageBitmap): { canvas: HTMLCanvasElement; context: CanvasRenderingContext2D } {
  const canvas = document.createElement('canvas');
  canvas.width = picture.width;
  canvas.height = picture.height;
  const context = canvas.getContext('2d', { willReadFrequently: true });
  if (!context) throw new Error('this browser has no canvas');
  context.drawImage(picture, 0, 0);
  return { canvas, context };
}

/** Draws the contrast of a picture out about the substrate outside the flake's outline. */
export function drawnOutPicture(picture: ImageBitmap, pose: FramePose, flake: FlakeView): ReadyPicture {
  const { canvas: drawnOut, context } = onCanvas(picture);
  const { canvas: plain } = onCanvas(picture);
  const perPx = pose.widthPx / picture.width;
  const outlines = flake.flake.terraces.map((terrace) => outlineInPixels(pose, terrace.outlineUm));
  const isFlake = (column: number, row: number): boolean => outlines.some((outline) => insideOutline(outline, (column + 0.5) * perPx, (row + 0.5) * perPx));
  const pixels = context.getImageData(0, 0, drawnOut.width, drawnOut.height);
  drawOut(pixels, substrateLevels(pixels, isFlake), DRAWN_OUT);
  context.putImageData(pixels, 0, 0);
  return { plain, drawnOut };
}

/** The picture cut round a flake; kept, since the list and the panel both show it. Rejects when it cannot be had. */
export function cropPicture(view: FlakeView): Promise<ReadyPicture> {
  return view.crop ? keptPicture(view, view.crop) : Promise.reject(new Error('no picture was cut'));
}

/** The picture of a flake at high magnification, kept like the other. Rejects when it cannot be had. */
export function closeUpPicture(view: FlakeView): Promise<ReadyPicture> {
  return view.closeUp ? keptPicture(view, view.closeUp) : Promise.reject(new Error('it was not looked at again'));
}

function keptPicture(view: FlakeView, crop: NonNullable<FlakeView['crop']>): Promise<ReadyPicture> {
  const known = crops.get(crop.picture);
  if (known) return known;
  const made = store.get(crop.picture).then((picture) => drawnOutPicture(picture, cropPose(crop), view));
  crops.set(crop.picture, made);
  made.catch(() => crops.delete(crop.picture));
  for (const url of crops.keys()) {
    if (crops.size <= CROPS_KEPT) break;
    crops.delete(url);
  }
  return made;
}
