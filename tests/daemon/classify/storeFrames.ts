import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import sharp from 'sharp';
import type { CameraFrame } from '../../../drivers/interfaces/index.ts';
import { PIXEL_UM } from '../vision/drawFrame.ts';

export interface SetToStore {
  readonly frames: readonly { readonly frame: CameraFrame; readonly xUm: number }[];
  readonly blank?: CameraFrame;
  readonly dark?: CameraFrame;
  /** More keys of the description, or others in place of the usual ones. */
  readonly keys?: Readonly<Record<string, unknown>>;
}

/** Stores a frame's numbers as they are: grey for one channel, RGB for three. */
async function storeImage(file: string, { data, widthPx, heightPx }: CameraFrame): Promise<void> {
  const channels = data.length === widthPx * heightPx ? 1 : 3;
  const image = sharp(data, { raw: { width: widthPx, height: heightPx, channels } });
  const deep = data instanceof Uint16Array;
  await image.toColourspace(channels === 1 ? (deep ? 'grey16' : 'b-w') : deep ? 'rgb16' : 'srgb').png({ compressionLevel: 1 }).toFile(file);
}

/** Stores drawn frames as a frame set in a row along x. */
export async function storeFrames(directory: string, set: SetToStore): Promise<void> {
  await mkdir(directory, { recursive: true });
  const frames: { file: string; xUm: number; yUm: number }[] = [];
  for (const [k, { frame, xUm }] of set.frames.entries()) {
    frames.push({ file: `frame-${k}.png`, xUm, yUm: 0 });
    await storeImage(join(directory, `frame-${k}.png`), frame);
  }
  if (set.blank) await storeImage(join(directory, 'blank.png'), set.blank);
  if (set.dark) await storeImage(join(directory, 'dark.png'), set.dark);
  const description = {
    format: 'frame-set/1', objective: { magnification: 20, numericalAperture: 0.45 }, cameraToStageUm: [[PIXEL_UM, 0], [0, -PIXEL_UM]], transfer: 'linear',
    illumination: 'halogen 3200 K', material: 'graphene', oxideNm: 290, whiteBalance: 'mirror', frames,
    ...(set.blank ? { blankFrame: 'blank.png' } : {}), ...(set.dark ? { darkFrame: 'dark.png' } : {}), ...set.keys,
  };
  await writeFile(join(directory, 'frame-set.json'), JSON.stringify(description));
}
