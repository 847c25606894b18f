import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openFrameSet, openFrameSetCamera } from '../../drivers/frameset/index.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { sceneOptions } from '../simulators/pictures.ts';
import { writeFrameSet, type FrameSetTruth } from '../simulators/writeFrameSet.ts';
import { cameraContract } from './camera.ts';

let folder = '';
let truth: FrameSetTruth;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'stored-chip-'));
  const scene = sceneOptions({ camera: { widthPx: 400, heightPx: 300, bits: 8, transfer: 'srgb' } });
  truth = await writeFrameSet({ directory: folder, scene, exposureMs: 10, lampIntensity: 0.5, withBlank: true, withDark: true });
});
afterAll(() => rm(folder, { recursive: true }));

cameraContract('stored frames', async () => {
  const clock = new VirtualClock({ startMs: 1_000_000 });
  return { camera: await openFrameSetCamera(await openFrameSet(folder), clock, { repeat: true }), clock };
});

describe('a simulated chip stored as a frame set', () => {
  it('covers the chip, and opens with its description, blank and dark frame', async () => {
    const set = await openFrameSet(folder);
    expect(set).toMatchObject({ transfer: 'srgb', material: 'graphene', oxideNm: 290, whiteBalance: 'mirror', hasBlank: true, hasDark: true });
    expect(set.cameraToStageUm).toEqual([0.69, 0, 0, -0.69]);
    // 1.2 x 1.2 mm in fields of 276 x 207 um with 10 % overlap: at least 1.1 mm / 248 um by 1.1 mm / 186 um.
    expect(set.frames.length).toBeGreaterThanOrEqual(5 * 6);
    const last = await set.readFrame(set.frames.length - 1);
    expect([last.widthPx, last.heightPx]).toEqual([400, 300]);
    const [blank, dark] = [await set.readBlank(), await set.readDark()];
    expect(Math.min(...(blank?.data.subarray(0, 3000) ?? []))).toBeGreaterThan(60);
    expect(Math.max(...(dark?.data.subarray(0, 3000) ?? []))).toBeLessThan(60);
  });

  it('comes with its truth', () => {
    expect(truth.flakes.length).toBeGreaterThan(10);
    for (const { terraces } of truth.flakes) for (const { areaUm2 } of terraces) expect(areaUm2).toBeGreaterThan(0);
  });
});
