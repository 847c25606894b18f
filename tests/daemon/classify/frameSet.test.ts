import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { classifyFrameSet } from '../../../daemon/classify/frameSet.ts';
import type { ClassifiedFrameSet, Measure } from '../../../daemon/classify/frameSet.ts';
import { inParallel } from '../../../daemon/classify/inParallel.ts';
import { drawFrameSet } from '../../../daemon/classify/mapPicture.ts';
import { NightjarError } from '../../../daemon/errors/index.ts';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import { drawFrame, PIXEL_UM, square } from '../vision/drawFrame.ts';
import type { Shape } from '../vision/drawFrame.ts';

/** Contrasts measured on graphene (Ni et al. 2007, from memory): one to four layers. */
const MEASURED = [0.09, 0.175, 0.255, 0.33] as const;
const STEP_PX = 260;
/** Where the four flakes begin along the row of frames; the second lies in the overlap of the first two. */
const PLACES_PX = [60, 265, 440, 850] as const;

let directory = '';
const measure: Measure = (input) => Promise.resolve(measureFrame(input));

/** One chip of 4 frames in a row, drawn once and cut into overlapping frames; frame 2 is missing and frame 4 is broken. */
beforeAll(async () => {
  directory = await mkdtemp(join(tmpdir(), 'nightjar-set-'));
  const frames: { file: string; xUm: number; yUm: number }[] = [];
  for (let k = 0; k < 5; k++) {
    const file = `frame-${String(k)}.png`;
    frames.push({ file, xUm: k * STEP_PX * PIXEL_UM, yUm: 0 });
    if (k === 2) continue;
    if (k === 4) {
      await writeFile(join(directory, file), 'not a picture');
      continue;
    }
    const shapes = MEASURED.flatMap((c, i): Shape[] => [{ corners: square((PLACES_PX[i] ?? 0) - k * STEP_PX, 60 + 25 * i, 40 + 3 * i), contrast: [c, c, 0.05 * c] }]);
    const frame = drawFrame({ seed: k + 5, shapes, light: (x, y) => 1 - 0.1 * ((x - 0.5) ** 2 + (y - 0.5) ** 2) });
    await sharp(frame.data as Uint16Array, { raw: { width: frame.widthPx, height: frame.heightPx, channels: 3 } }).toColourspace('rgb16').png().toFile(join(directory, file));
  }
  const set = {
    format: 'frame-set/1', objective: { magnification: 20, numericalAperture: 0.45 }, cameraToStageUm: [[PIXEL_UM, 0], [0, -PIXEL_UM]], transfer: 'linear',
    illumination: 'halogen 3200 K', material: 'graphene', oxideNm: 290, whiteBalance: 'mirror', frames,
  };
  await writeFile(join(directory, 'frame-set.json'), JSON.stringify(set));
  await writeFile(join(directory, 'unknown.json'), JSON.stringify({ ...set, material: 'unobtainium' }));
});
afterAll(() => rm(directory, { recursive: true }));

describe('classifyFrameSet', () => {
  let classified: ClassifiedFrameSet;
  beforeAll(async () => {
    classified = await classifyFrameSet(directory, { inFlight: 3 }, measure);
  });

  it('names the missing and the broken image and classifies the rest', () => {
    expect(classified.report.problems.map((p) => [p.file, p.code])).toEqual([['frame-2.png', 'missingFile'], ['frame-4.png', 'brokenFile']]);
    const found = classified.report.flakes.map((f) => `${String(f.layers)} in ${String(f.terraces.length)}`);
    expect(new Set(found)).toEqual(new Set(['1 in 1', '2 in 1', '3 in 1', '4 in 1']));
    expect(found).toHaveLength(4);
  });

  it('gives each flake its place, size and outline in stage um', () => {
    const one = classified.report.flakes.find((f) => f.layers === 1);
    expect(one?.centreUm[0]).toBeCloseTo((80 - 160) * PIXEL_UM, 0);
    expect(one?.centreUm[1]).toBeCloseTo(-(80 - 128) * PIXEL_UM, 0);
    expect(Math.abs((one?.areaUm2 ?? 0) / (40 * 40 * PIXEL_UM ** 2) - 1)).toBeLessThan(0.04);
    expect(one?.terraces[0]?.outlineUm.length).toBeGreaterThanOrEqual(4);
    expect(one?.frames).toEqual(['frame-0.png']);
  });

  it('gives the same report however many frames are measured at once', async () => {
    const delays = [3, 0, 2, 1];
    const uneven: Measure = async (input) => {
      for (let n = delays[Math.round(input.pose.centreUm.xUm / 130) % 4] ?? 0; n > 0; n--) await Promise.resolve();
      return measureFrame(input);
    };
    expect(JSON.stringify((await classifyFrameSet(directory, { inFlight: 1 }, uneven)).report)).toBe(JSON.stringify(classified.report));
  });

  it('draws the frames and the outlines', async () => {
    const picture = await sharp(await drawFrameSet(classified)).metadata();
    expect(picture.format).toBe('png');
    expect(Math.max(picture.width, picture.height)).toBe(2400);
  });

  it('refuses a material without optical data and says which there are', async () => {
    const other = await mkdtemp(join(tmpdir(), 'nightjar-set-'));
    try {
      await writeFile(join(other, 'frame-set.json'), await readFile(join(directory, 'unknown.json'), 'utf8'));
      await expect(classifyFrameSet(other, {}, measure)).rejects.toSatisfy((error) => error instanceof NightjarError && error.code === 'badUsage' && JSON.stringify(error.details).includes('hbn'));
    } finally {
      await rm(other, { recursive: true });
    }
  });
});

describe('inParallel', () => {
  it('keeps the order and never has more under way than it may', async () => {
    let running = 0;
    let most = 0;
    const results: number[] = [];
    for await (const [item, result] of inParallel([5, 1, 4, 0, 3, 2], 3, async (n) => {
      most = Math.max(most, ++running);
      for (let k = 0; k < n; k++) await Promise.resolve();
      running--;
      return n * n;
    })) results.push(item, result);
    expect(results).toEqual([5, 25, 1, 1, 4, 16, 0, 0, 3, 9, 2, 4]);
    expect(most).toBeLessThanOrEqual(3);
  });

  it('waits for what is under way before it fails', async () => {
    let ended = 0;
    const run = async (): Promise<void> => {
      for await (const [item] of inParallel([1, 2, 3], 3, async (n) => {
        if (n === 1) throw new Error('broken');
        await Promise.resolve();
        ended++;
        return n;
      })) expect(item).toBe(1);
    };
    await expect(run()).rejects.toThrow('broken');
    expect(ended).toBe(2);
  });
});
