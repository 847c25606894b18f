import sharp from 'sharp';
import { flakesOf } from '../../planner/flakes/book.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import { fieldOf } from '../../planner/flakes/view.ts';
import { invert2 } from '../../planner/units/index.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import { DriverError } from '../../drivers/interfaces/index.ts';
import { toDisplayRgb8 } from '../records/display.ts';
import type { Picture } from '../records/display.ts';
import type { ClassifiedFrameSet } from './frameSet.ts';

/** Longer side of the picture, pixels. */
const LONG_SIDE_PX = 2400;
/** One layer to ten, light to dark; the number stands beside it. Thicker ones and rejects are grey. */
const RAMP = ['#fff3b0', '#ffd166', '#f8a13f', '#e8743b', '#c9504a', '#a23b5c', '#7b3068', '#5a2a6b', '#41246a', '#2f1f63'];
const THICK = '#9aa3ad';
const REJECTED = '#5f6670';

/** A stage area laid on a picture: x to the right, y upwards. */
interface Sheet {
  readonly xMinUm: number;
  readonly yMaxUm: number;
  readonly umPerPx: number;
  readonly widthPx: number;
  readonly heightPx: number;
}

/**
 * A picture of a classified frame set as a PNG: its frames where they lie on the stage, with the outline and layer number of every
 * flake, the rejects faintly, and a scale bar.
 */
export async function drawFrameSet(classified: ClassifiedFrameSet): Promise<Uint8Array> {
  const { set, book } = classified;
  const poses: (FramePose | undefined)[] = [];
  const pictures: (Picture | undefined)[] = [];
  for (let index = 0; index < set.frames.length; index++) {
    const shown = await readShown(classified, index);
    pictures.push(shown?.picture);
    poses.push(shown?.pose);
  }
  const sheet = sheetOver(poses.flatMap((pose) => (pose ? fieldOf(pose) : [])));
  const rgb = new Uint8Array(sheet.widthPx * sheet.heightPx * 3).fill(18);
  poses.forEach((pose, i) => {
    const picture = pictures[i];
    if (pose && picture) paint(sheet, rgb, picture, pose);
  });
  const overlay = Buffer.from(overlaySvg(sheet, flakesOf(book)));
  const raw = { width: sheet.widthPx, height: sheet.heightPx, channels: 3 as const };
  return new Uint8Array(await sharp(rgb, { raw }).composite([{ input: overlay, left: 0, top: 0 }]).png().toBuffer());
}

async function readShown(classified: ClassifiedFrameSet, index: number): Promise<{ readonly picture: Picture; readonly pose: FramePose } | undefined> {
  const { set, book, flat, substrate } = classified;
  const stored = set.frames[index];
  if (!stored) return undefined;
  try {
    const frame = await set.readFrame(index);
    const offset = book.offsets.get(index) ?? { dxUm: 0, dyUm: 0 };
    const pose: FramePose = {
      centreUm: { xUm: stored.xUm + offset.dxUm, yUm: stored.yUm + offset.dyUm },
      cameraToStageUm: set.cameraToStageUm,
      widthPx: frame.widthPx,
      heightPx: frame.heightPx,
    };
    const picture = toDisplayRgb8(frame, { transfer: set.transfer, ...(flat ? { flat } : {}), ...(substrate ? { substrate } : {}) });
    return { picture, pose };
  } catch (error) {
    if (error instanceof DriverError) return undefined;
    throw error;
  }
}

function sheetOver(points: readonly StagePoint[]): Sheet {
  if (points.length === 0) return { xMinUm: 0, yMaxUm: 0, umPerPx: 1, widthPx: 64, heightPx: 64 };
  const xs = points.map((p) => p.xUm);
  const ys = points.map((p) => p.yUm);
  const [wide, high] = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
  const umPerPx = Math.max(wide, high) / LONG_SIDE_PX;
  return { xMinUm: Math.min(...xs), yMaxUm: Math.max(...ys), umPerPx, widthPx: Math.max(1, Math.ceil(wide / umPerPx)), heightPx: Math.max(1, Math.ceil(high / umPerPx)) };
}

/** Copies a frame's picture to its place, nearest sample. */
function paint(sheet: Sheet, rgb: Uint8Array, picture: Picture, pose: FramePose): void {
  const inverse = invert2(pose.cameraToStageUm);
  if (!inverse) return;
  const corners = fieldOf(pose);
  const cols = corners.map((p) => (p.xUm - sheet.xMinUm) / sheet.umPerPx);
  const rows = corners.map((p) => (sheet.yMaxUm - p.yUm) / sheet.umPerPx);
  const across = picture.widthPx / pose.widthPx;
  const down = picture.heightPx / pose.heightPx;
  for (let row = Math.max(0, Math.floor(Math.min(...rows))); row < Math.min(sheet.heightPx, Math.max(...rows)); row++) {
    const dyUm = sheet.yMaxUm - (row + 0.5) * sheet.umPerPx - pose.centreUm.yUm;
    for (let col = Math.max(0, Math.floor(Math.min(...cols))); col < Math.min(sheet.widthPx, Math.max(...cols)); col++) {
      const dxUm = sheet.xMinUm + (col + 0.5) * sheet.umPerPx - pose.centreUm.xUm;
      const c = Math.floor((inverse[0] * dxUm + inverse[1] * dyUm + pose.widthPx / 2) * across);
      const r = Math.floor((inverse[2] * dxUm + inverse[3] * dyUm + pose.heightPx / 2) * down);
      if (c < 0 || r < 0 || c >= picture.widthPx || r >= picture.heightPx) continue;
      const from = (r * picture.widthPx + c) * 3;
      const to = (row * sheet.widthPx + col) * 3;
      rgb[to] = picture.rgb[from] as number;
      rgb[to + 1] = picture.rgb[from + 1] as number;
      rgb[to + 2] = picture.rgb[from + 2] as number;
    }
  }
}

function overlaySvg(sheet: Sheet, flakes: readonly Flake[]): string {
  const shapes = [...flakes].sort((a, b) => b.areaUm2 - a.areaUm2).flatMap((flake) => shapesOf(sheet, flake));
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${sheet.widthPx}" height="${sheet.heightPx}">${shapes.join('')}${scaleBar(sheet)}</svg>`;
}

function shapesOf(sheet: Sheet, flake: Flake): readonly string[] {
  const rejected = flake.verdict === 'rejected';
  const lines = flake.terraces.map((t) => {
    const points = t.outlineUm.map((p) => `${((p.xUm - sheet.xMinUm) / sheet.umPerPx).toFixed(1)},${((sheet.yMaxUm - p.yUm) / sheet.umPerPx).toFixed(1)}`).join(' ');
    const colour = rejected ? REJECTED : colourOf(t.call.layers);
    return `<polygon points="${points}" fill="none" stroke="${colour}" stroke-width="${rejected ? 0.8 : 1.6}"${rejected ? ' stroke-dasharray="3 3"' : ''}/>`;
  });
  return rejected || flake.layers === null ? lines : [...lines, label(sheet, flake, String(flake.layers))];
}

function colourOf(layers: number | null): string {
  return layers === null ? THICK : (RAMP[layers - 1] ?? THICK);
}

function label(sheet: Sheet, flake: Flake, text: string): string {
  const right = Math.max(...flake.terraces.flatMap((t) => t.outlineUm.map((p) => p.xUm)));
  const x = (right - sheet.xMinUm) / sheet.umPerPx + 4;
  const y = (sheet.yMaxUm - flake.centreUm.yUm) / sheet.umPerPx + 6;
  return `<text x="${x.toFixed(1)}" y="${y.toFixed(1)}" font-family="sans-serif" font-size="18" fill="${colourOf(flake.layers)}" stroke="#121212" stroke-width="3" paint-order="stroke">${text}</text>`;
}

/** A bar of 1, 2 or 5 times a power of ten, about an eighth of the picture wide. */
function scaleBar(sheet: Sheet): string {
  const target = (sheet.widthPx * sheet.umPerPx) / 8;
  const power = 10 ** Math.floor(Math.log10(target));
  const lengthUm = [5, 2, 1].map((m) => m * power).find((um) => um <= target) ?? power;
  const px = lengthUm / sheet.umPerPx;
  const y = sheet.heightPx - 24;
  return (
    `<rect x="24" y="${y}" width="${px.toFixed(1)}" height="5" fill="#f4efe6"/>` +
    `<text x="24" y="${y - 8}" font-family="sans-serif" font-size="18" fill="#f4efe6">${lengthUm} µm</text>`
  );
}
