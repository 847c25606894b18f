import { renderFrame, type RenderedFrame, type RenderRequest } from '../../simulators/camera/renderFrame.ts';
import type { Scene, SceneOptions } from '../../simulators/camera/scene.ts';
import { makeTray } from '../../simulators/index.ts';
import { CLEAN } from '../../simulators/trays.ts';

/** A clean flat graphene chip full of thin flakes. */
export const thinFlakes = makeTray('thin', [
  {
    name: 'A',
    centreUm: { xUm: 5000, yUm: 5000 },
    widthUm: 1200,
    heightUm: 1200,
    flakesPerMm2: 25,
    layerShares: [{ layers: [1, 1], weight: 1 }],
    flakeRadiusUm: [22, 40],
    dirt: CLEAN,
  },
]);

/** A scene with square pixels, y up, that tests may change. */
export function sceneOptions(change: Partial<SceneOptions> = {}): SceneOptions {
  return {
    seed: 5,
    tray: thinFlakes,
    camera: { widthPx: 320, heightPx: 240, bits: 12, transfer: 'linear' },
    objectives: [{ magnification: 10, numericalAperture: 0.3, cameraToStageUm: [0.69, 0, 0, -0.69] }],
    lamp: 'halogen',
    ...change,
  };
}

export function picture(scene: Scene, change: Partial<RenderRequest> = {}): RenderedFrame {
  const { widthPx, heightPx } = scene.options.camera;
  const region = { colPx: 0, rowPx: 0, widthPx, heightPx };
  const settings = { exposureMs: 10, lampIntensity: 0.5, gainDb: 0, region, noiseKey: 'test' };
  return renderFrame(scene, { atUm: { xUm: 5000, yUm: 5000 }, zUm: 1000, objective: 0, ...settings, ...change });
}

/** Mean of one channel over pixels that `wanted` chooses by column and row. */
export function meanWhere({ data, widthPx, heightPx }: RenderedFrame, channel: number, wanted: (column: number, row: number) => boolean = () => true): number {
  let sum = 0;
  let count = 0;
  for (let row = 0; row < heightPx; row++) {
    for (let column = 0; column < widthPx; column++) {
      if (!wanted(column + 0.5, row + 0.5)) continue;
      sum += data[(row * widthPx + column) * 3 + channel] ?? Number.NaN;
      count++;
    }
  }
  return sum / count;
}

/** Sum of squared differences between neighbours along the rows: larger is sharper. */
export function gradientEnergy({ data, widthPx, heightPx }: RenderedFrame): number {
  let sum = 0;
  for (let row = 0; row < heightPx; row++) {
    for (let column = 2; column < widthPx; column++) {
      const i = (row * widthPx + column) * 3 + 1;
      sum += ((data[i] ?? 0) - (data[i - 6] ?? 0)) ** 2;
    }
  }
  return sum;
}

/** True when two frames hold the same samples. (A deep comparison of large arrays takes seconds.) */
export function sameSamples(a: Pick<RenderedFrame, 'data'>, b: Pick<RenderedFrame, 'data'>): boolean {
  return a.data.length === b.data.length && a.data.BYTES_PER_ELEMENT === b.data.BYTES_PER_ELEMENT && a.data.every((value, i) => value === b.data[i]);
}

/** Mean of all samples. */
export function meanSample({ data }: Pick<RenderedFrame, 'data'>): number {
  let sum = 0;
  for (const value of data) sum += value;
  return sum / data.length;
}
