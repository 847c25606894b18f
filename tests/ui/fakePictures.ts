import sharp from 'sharp';
import { stageToPixel } from '../../planner/units/index.ts';
import type { FramePose, StagePoint } from '../../planner/units/index.ts';
import { contrastOf, seeded } from './fakeChips.ts';
import type { FakeChip, FakeDirt, FakeFlake } from './fakeChips.ts';

export interface FakeScene {
  readonly chips: readonly FakeChip[];
  readonly flakes: readonly FakeFlake[];
  readonly dirt: readonly FakeDirt[];
}

const noise = seeded(1);
/** A camera's noise in steps of a byte; of a length that lines up with no row. */
const NOISE = Int8Array.from({ length: 65_537 }, () => Math.round((noise() + noise() - 1) * 5));

/** Linear light as a byte of an sRGB picture (IEC 61966-2-1). */
function toByte(linear: number): number {
  const v = Math.min(1, Math.max(0, linear));
  return Math.round(255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055));
}

function colour(linear: readonly number[]): string {
  return `rgb(${linear.map(toByte).join(',')})`;
}

function points(pose: FramePose, outline: readonly StagePoint[]): string {
  return outline.map((p) => stageToPixel(pose, p)).map(({ colPx, rowPx }) => `${colPx.toFixed(2)},${rowPx.toFixed(2)}`).join(' ');
}

function near(pose: FramePose, at: StagePoint): boolean {
  const { colPx, rowPx } = stageToPixel(pose, at);
  return colPx > -150 && rowPx > -150 && colPx < pose.widthPx + 150 && rowPx < pose.heightPx + 150;
}

function drawing(scene: FakeScene, chip: FakeChip, pose: FramePose, scale: number): string {
  const { substrate } = chip.material;
  const flakes = scene.flakes.filter((flake) => flake.chip === chip.view.name && near(pose, flake.centreUm)).flatMap((flake) => flake.terraces);
  const polygons = flakes.map(({ layers, outlineUm }) => {
    const contrast = contrastOf(chip.material, layers);
    return `<polygon points="${points(pose, outlineUm)}" fill="${colour(substrate.map((level, c) => level * (1 - (contrast[c] ?? 0))))}"/>`;
  });
  const spots = scene.dirt.filter((spot) => near(pose, spot.centreUm)).map((spot) => {
    const { colPx, rowPx } = stageToPixel(pose, spot.centreUm);
    return `<circle cx="${colPx.toFixed(1)}" cy="${rowPx.toFixed(1)}" r="${(spot.radiusUm / 0.37).toFixed(1)}" fill="${colour(substrate.map((level) => level * spot.level))}"/>`;
  });
  const edge = `<polygon points="${points(pose, chip.view.outlineUm)}" fill="${colour(substrate)}"/>`;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${Math.round(pose.widthPx * scale)}" height="${Math.round(pose.heightPx * scale)}" viewBox="0 0 ${pose.widthPx} ${pose.heightPx}"><rect width="100%" height="100%" fill="#0a0908"/>${edge}${polygons.join('')}${spots.join('')}</svg>`;
}

interface FrameOptions {
  readonly seed: number;
  readonly scale?: number;
  readonly lossless?: boolean;
}

/** Frames made before, by what is drawn: most tests begin with the same tiles. */
const made = new Map<string, Promise<Buffer>>();

/** One camera frame of the invented tray, with a camera's noise, `scale` times its size. */
export function fakeFrame(scene: FakeScene, chip: FakeChip, pose: FramePose, options: FrameOptions): Promise<Buffer> {
  const svg = drawing(scene, chip, pose, options.scale ?? 1);
  const key = `${options.seed} ${options.lossless === true} ${svg}`;
  const frame = made.get(key) ?? withNoise(svg, options);
  made.set(key, frame);
  return frame;
}

async function withNoise(svg: string, { seed, lossless }: FrameOptions): Promise<Buffer> {
  const { data, info } = await sharp(Buffer.from(svg)).blur(0.8).removeAlpha().raw().toBuffer({ resolveWithObject: true });
  const start = Math.floor(seeded(seed)() * NOISE.length);
  for (let i = 0; i < data.length; i += 1) data[i] = Math.min(255, Math.max(0, (data[i] ?? 0) + (NOISE[(start + i) % NOISE.length] ?? 0)));
  const image = sharp(data, { raw: { width: info.width, height: info.height, channels: 3 } });
  return lossless ? image.png({ compressionLevel: 3 }).toBuffer() : image.webp({ quality: 82, effort: 0 }).toBuffer();
}
