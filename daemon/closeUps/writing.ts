import { join } from 'node:path';
import { cropFrame } from '../../drivers/frames/cropFrame.ts';
import { pixelToStage, type FramePose, type StagePoint } from '../../planner/units/index.ts';
import { toDisplayRgb8 } from '../records/display.ts';
import { encodeCrop, encodePictureCrop } from '../records/images.ts';
import { closeUpFile } from '../records/layout.ts';
import type { CloseUpPicture } from '../records/types.ts';
import { writeDurably } from '../records/writeDurably.ts';
import { regionAbout, shownBinning } from './part.ts';
import type { CloseUpContext } from './path.ts';
import type { Shot } from './shot.ts';

/** Rim about the flake in the picture that is kept. */
const rimUm = 8;

/**
 * Cuts the flake out of its frame and writes it twice, each file synced and renamed before anything names it: for people, and as the
 * camera gave it.
 * @param substrate level of bare oxide per channel, so that it is shown as bright as in every other picture
 */
export async function writeCloseUp({ records, runId, path, config, writeBytes }: CloseUpContext, flakeId: string, outlineUm: readonly StagePoint[], { frame, pose }: Shot, substrate: readonly number[]): Promise<CloseUpPicture> {
  const region = regionAbout(outlineUm, rimUm, pose);
  const part = cropFrame(frame, region);
  const whole = { colPx: 0, rowPx: 0, widthPx: part.widthPx, heightPx: part.heightPx };
  const shown = toDisplayRgb8(part, { transfer: config.camera.transfer, ...(substrate.length > 0 ? { substrate } : {}) });
  const [file, rawFile] = [closeUpFile(runId, flakeId, path.name, 'shown'), closeUpFile(runId, flakeId, path.name, 'raw')];
  await writeDurably(join(records.directory, file), await encodePictureCrop(shown, { ...whole, widthPx: shown.widthPx, heightPx: shown.heightPx }), writeBytes);
  await writeDurably(join(records.directory, rawFile), await encodeCrop(part, whole), writeBytes);
  const centreUm = pixelToStage(pose, { colPx: region.colPx + region.widthPx / 2, rowPx: region.rowPx + region.heightPx / 2 });
  return { file, rawFile, widthPx: shown.widthPx, heightPx: shown.heightPx, centreUm, cameraToStageUm: wider(pose, shownBinning(frame)) };
}

function wider({ cameraToStageUm: [m00, m01, m10, m11] }: FramePose, binning: number): CloseUpPicture['cameraToStageUm'] {
  return [m00 * binning, m01 * binning, m10 * binning, m11 * binning];
}
