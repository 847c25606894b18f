import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import sharp from 'sharp';
import { areaUm2, boundingBox, centroid } from '../../planner/geometry/polygon.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { renderFrame, type RenderedFrame } from '../../simulators/camera/renderFrame.ts';
import { createScene, objectiveOf, type Scene, type SceneOptions } from '../../simulators/camera/scene.ts';
import { randomStream } from '../../simulators/random.ts';
import { CLEAN } from '../../simulators/index.ts';
import { focusHeightUm } from '../../simulators/world/surface.ts';
import type { TrueFlake, WorldChip } from '../../simulators/world/types.ts';

export interface FrameSetWish {
  readonly directory: string;
  /** The first chip of its tray is scanned, through the first objective. */
  readonly scene: SceneOptions;
  readonly exposureMs: number;
  readonly lampIntensity: number;
  /** Share of a frame that neighbours have in common. */
  readonly overlap?: number;
  /** How far off the stage's report is, one standard deviation. */
  readonly reportErrorUm?: number;
  readonly withBlank?: boolean;
  readonly withDark?: boolean;
  /** More keys of the description. */
  readonly keys?: Readonly<Record<string, unknown>>;
}

/** The truth of a stored set, in the form of `truth.json`: base terrace first, areas without what the next terrace covers. */
export interface FrameSetTruth {
  readonly chipUm: readonly [number, number];
  readonly areaCm2: number;
  readonly flakes: readonly {
    readonly id: number;
    readonly centreUm: readonly [number, number];
    readonly terraces: readonly { readonly layers: number; readonly areaUm2: number; readonly outlineUm: readonly (readonly [number, number])[] }[];
  }[];
}

const pair = ({ xUm, yUm }: StagePoint): [number, number] => [Math.round(xUm * 100) / 100, Math.round(yUm * 100) / 100];

function truthOf(id: number, { terraces }: TrueFlake): FrameSetTruth['flakes'][number] {
  return {
    id,
    centreUm: pair(centroid(terraces[0]?.outlineUm ?? [])),
    terraces: terraces.map(({ layers, outlineUm }, i) => ({
      layers,
      areaUm2: areaUm2(outlineUm) - areaUm2(terraces[i + 1]?.outlineUm ?? []),
      outlineUm: outlineUm.map(pair),
    })),
  };
}

/** Frame centres that cover the chip without its outermost 50 um, in a serpentine; the chip's and the camera's angle must be small. */
function centresOver(chip: WorldChip, { scene: options, overlap = 0.1 }: FrameSetWish): readonly StagePoint[] {
  const { cameraToStageUm: m } = objectiveOf(options, 0);
  const stepX = (Math.abs(m[0]) * options.camera.widthPx + Math.abs(m[1]) * options.camera.heightPx) * (1 - overlap);
  const stepY = (Math.abs(m[2]) * options.camera.widthPx + Math.abs(m[3]) * options.camera.heightPx) * (1 - overlap);
  const box = boundingBox(chip.outlineUm);
  const places = (min: number, max: number, step: number) => {
    const count = Math.max(1, Math.ceil((max - min - 100) / step));
    return Array.from({ length: count }, (_, i) => (min + max) / 2 + (i - (count - 1) / 2) * step);
  };
  return places(box.yMinUm, box.yMaxUm, stepY).flatMap((yUm, row) => {
    const xs = places(box.xMinUm, box.xMaxUm, stepX);
    return (row % 2 === 0 ? xs : xs.reverse()).map((xUm) => ({ xUm, yUm }));
  });
}

async function store(directory: string, file: string, { data, widthPx, heightPx }: RenderedFrame): Promise<void> {
  const image = sharp(data, { raw: { width: widthPx, height: heightPx, channels: 3 } });
  await (data instanceof Uint16Array ? image.toColourspace('rgb16') : image).png({ compressionLevel: 1 }).toFile(join(directory, file));
}

/** Stores a scan of a simulated chip as a frame set with `truth.json`, for tests. Makes the folder. */
export async function writeFrameSet(wish: FrameSetWish): Promise<FrameSetTruth> {
  const { directory, scene: options, exposureMs, reportErrorUm = 0.3 } = wish;
  const { widthPx, heightPx, transfer } = options.camera;
  const objective = objectiveOf(options, 0);
  const recipe = options.tray.chips[0];
  const scene = createScene(options);
  const chip = scene.world.chips[0];
  if (!recipe || !chip) throw new Error('the tray has no chip');
  await mkdir(directory, { recursive: true });
  const region = { colPx: 0, rowPx: 0, widthPx, heightPx };
  const take = (from: Scene, atUm: StagePoint, lampIntensity: number, noiseKey: string) =>
    renderFrame(from, { atUm, zUm: focusHeightUm(chip, atUm), objective: 0, exposureMs, lampIntensity, gainDb: 0, region, noiseKey });
  const random = randomStream(options.seed, 'frame set', 'reported position');
  const frames: { file: string; xUm: number; yUm: number }[] = [];
  for (const [index, centre] of centresOver(chip, wish).entries()) {
    const file = `frame-${String(index).padStart(4, '0')}.png`;
    await store(directory, file, take(scene, centre, wish.lampIntensity, file));
    frames.push({ file, xUm: centre.xUm + random.normal() * reportErrorUm, yUm: centre.yUm + random.normal() * reportErrorUm });
  }
  const bare = { ...recipe, flakesPerMm2: 0, dirt: CLEAN };
  if (wish.withBlank) await store(directory, 'blank.png', take(createScene({ ...options, tray: { name: 'bare', chips: [bare] } }), chip.centreUm, wish.lampIntensity, 'blank'));
  if (wish.withDark) await store(directory, 'dark.png', take(scene, chip.centreUm, 0, 'dark'));
  const { magnification, numericalAperture, cameraToStageUm: m } = objective;
  const description = {
    format: 'frame-set/1',
    title: 'simulated chip',
    objective: { magnification, numericalAperture },
    cameraToStageUm: [[m[0], m[1]], [m[2], m[3]]],
    transfer,
    illumination: options.lamp,
    material: recipe.material,
    oxideNm: recipe.nominalOxideNm,
    whiteBalance: 'mirror',
    frames,
    ...(wish.withBlank ? { blankFrame: 'blank.png' } : {}),
    ...(wish.withDark ? { darkFrame: 'dark.png' } : {}),
    ...wish.keys,
  };
  const truth: FrameSetTruth = {
    chipUm: [chip.widthUm, chip.heightUm],
    areaCm2: (chip.widthUm * chip.heightUm) / 1e8,
    flakes: chip.flakes.map((flake, id) => truthOf(id, flake)),
  };
  await writeFile(join(directory, 'frame-set.json'), JSON.stringify(description, undefined, 1));
  await writeFile(join(directory, 'truth.json'), JSON.stringify(truth, undefined, 1));
  return truth;
}
