import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Matrix2 } from '../../planner/units/index.ts';
import { MIRROR_FILLS_AT_MS } from '../../simulators/camera/cameraModel.ts';
import { createScene, type Scene, type SceneOptions } from '../../simulators/camera/scene.ts';
import { CLEAN, makeTray, MUCH_DIRT, type ChipRecipe, type LampKind, type LayerShare } from '../../simulators/index.ts';
import { randomStream } from '../../simulators/random.ts';
import { filmOf } from '../../simulators/world/flakes.ts';
import type { Blemish } from '../../simulators/world/types.ts';
import { writeFrameSet, type FrameSetTruth } from '../simulators/writeFrameSet.ts';

interface Kind {
  readonly name: string;
  readonly material: ChipRecipe['material'];
  readonly oxideNm: number;
  readonly dirty: boolean;
  readonly onlyThick?: true;
}

/** One simulated frame set as it truly is. */
export interface SimulatedSet {
  readonly name: string;
  readonly seed: number;
  readonly kind: Kind;
  readonly lamp: LampKind;
  readonly camera: string;
  readonly whiteBalance: string;
  readonly oxideNm: number;
  readonly areaCm2: number;
  readonly truth: FrameSetTruth;
  readonly blemishes: readonly Blemish[];
  /** Contrast in red, green and blue that so many layers have in its pictures, stray light included. */
  contrastOf(layers: number): readonly number[];
}

/** One after the other, again and again with other seeds; dirty ones first, so that a short run sees most of what is hard. */
const KINDS: readonly Kind[] = [
  { name: 'graphene-285-dirty', material: 'graphene', oxideNm: 285, dirty: true },
  { name: 'graphene-290-dirty', material: 'graphene', oxideNm: 290, dirty: true },
  { name: 'thick-290-dirty', material: 'graphene', oxideNm: 290, dirty: true, onlyThick: true },
  { name: 'graphene-300-dirty', material: 'graphene', oxideNm: 300, dirty: true },
  { name: 'graphene-90-dirty', material: 'graphene', oxideNm: 90, dirty: true },
  { name: 'mos2-285-dirty', material: 'mos2', oxideNm: 285, dirty: true },
  { name: 'graphene-285-clean', material: 'graphene', oxideNm: 285, dirty: false },
  { name: 'graphene-290-clean', material: 'graphene', oxideNm: 290, dirty: false },
  { name: 'thick-90-dirty', material: 'graphene', oxideNm: 90, dirty: true, onlyThick: true },
  { name: 'graphene-300-clean', material: 'graphene', oxideNm: 300, dirty: false },
  { name: 'graphene-90-clean', material: 'graphene', oxideNm: 90, dirty: false },
  { name: 'mos2-285-clean', material: 'mos2', oxideNm: 285, dirty: false },
];

const THIN_TOO: readonly [LayerShare, ...LayerShare[]] = [
  { layers: [1, 1], weight: 18 },
  { layers: [2, 2], weight: 14 },
  { layers: [3, 3], weight: 11 },
  { layers: [4, 4], weight: 9 },
  { layers: [5, 11], weight: 18 },
  { layers: [12, 200], weight: 30 },
];
const THICK: readonly [LayerShare, ...LayerShare[]] = [{ layers: [15, 260], weight: 1 }];

const PIXEL_UM = 0.69;
/** The brightest channel of bare oxide fills so much of a pixel. */
const SUBSTRATE_FILLS = 0.42;

/** Turned by up to 2 degrees, mirrored in half of the sets. */
function cameraMatrix(seed: number): Matrix2 {
  const random = randomStream(seed, 'reliability', 'camera');
  const angle = random.between(-0.035, 0.035);
  const flip = random.next() < 0.5 ? -1 : 1;
  const [c, s] = [Math.cos(angle) * PIXEL_UM, Math.sin(angle) * PIXEL_UM];
  return [c, s * flip, s, -c * flip];
}

function sceneOf(seed: number, kind: Kind): SceneOptions {
  const tray = makeTray(kind.name, [
    {
      name: 'R',
      centreUm: { xUm: 21_000, yUm: 18_000 },
      widthUm: 1500,
      heightUm: 1200,
      material: kind.material,
      nominalOxideNm: kind.oxideNm,
      flakesPerMm2: kind.onlyThick ? 8 : 30,
      layerShares: kind.onlyThick ? THICK : THIN_TOO,
      flakeRadiusUm: [8, 32],
      dirt: kind.dirty ? MUCH_DIRT : CLEAN,
      surface: { focusUm: 1000, tiltXMrad: 0.8, tiltYMrad: -0.6, bowUm: 0.5 },
    },
  ]);
  const camera = { widthPx: 1024, heightPx: 768, ...(seed % 2 === 0 ? { bits: 12, transfer: 'linear' as const } : { bits: 8, transfer: 'srgb' as const }) };
  const objectives = [{ magnification: 10, numericalAperture: 0.3, cameraToStageUm: cameraMatrix(seed) }];
  return { seed, tray, camera, objectives, lamp: Math.floor(seed / 2) % 3 === 2 ? 'whiteLed' : 'halogen' };
}

function contrasts(scene: Scene, material: Kind['material']): SimulatedSet['contrastOf'] {
  const chip = scene.world.chips[0];
  if (!chip) throw new Error('the tray has no chip');
  const bare = scene.colourOf(chip, 0);
  return (layers) => (layers === 0 ? [0, 0, 0] : scene.colourOf(chip, 0, filmOf(material, layers)).map((r, i) => 1 - r / (bare[i] ?? 1)));
}

/** The set's description says "mirror" in half of the sets, which is true of the simulated camera, and "unknown" in the others. */
async function forgetWhiteBalance(directory: string): Promise<void> {
  const file = join(directory, 'frame-set.json');
  const description = JSON.parse(await readFile(file, 'utf8')) as Record<string, unknown>;
  await writeFile(file, JSON.stringify({ ...description, whiteBalance: 'unknown' }));
}

/** Renders and stores the simulated frame set of this number in a new folder. Clean chips come with a blank frame, dirty ones without. */
export async function makeSet(number: number, directory: string): Promise<SimulatedSet> {
  const kind = KINDS[number % KINDS.length];
  if (!kind) throw new RangeError(`no set number ${number}`);
  const seed = 7000 + number + Math.floor(number / KINDS.length);
  const options = sceneOf(seed, kind);
  const scene = createScene(options);
  const [chip] = scene.world.chips;
  if (!chip) throw new Error('the tray has no chip');
  const exposureMs = (SUBSTRATE_FILLS * MIRROR_FILLS_AT_MS) / Math.max(...scene.colourOf(chip, 0));
  const truth = await writeFrameSet({ directory, scene: options, exposureMs, lampIntensity: 1, overlap: 0.12, withBlank: !kind.dirty, withDark: true });
  const known = number % 4 < 2;
  if (!known) await forgetWhiteBalance(directory);
  return {
    name: `${String(number).padStart(3, '0')}-${kind.name}`,
    seed, kind, lamp: options.lamp, truth,
    camera: `${options.camera.bits} bit ${options.camera.transfer}`,
    whiteBalance: known ? 'mirror' : 'unknown',
    oxideNm: chip.oxideNm,
    areaCm2: truth.areaCm2,
    blemishes: chip.blemishes,
    contrastOf: contrasts(scene, kind.material),
  };
}
