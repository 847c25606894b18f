import { mkdtemp, readFile, rm, truncate, unlink } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { FrameSetReport } from '../../../daemon/classify/report.ts';
import { trayNamed } from '../../simulators/smallMicroscope.ts';
import { writeFrameSet, type FrameSetTruth } from '../../simulators/writeFrameSet.ts';
import { runCli } from './runCli.ts';

/**
 * Protects: `nightjar classify` finds the flakes of stored frames, names the images that it cannot use, and classifies the rest. The
 * frames are the simulator's, so that nothing is said here of accuracy beyond that the plain ones are found.
 */

let folder = '';
let truth: FrameSetTruth;
const broken = 'frame-0002.png';
const missing = 'frame-0006.png';

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightjar-classify-'));
  const objectives = [{ magnification: 10, numericalAperture: 0.3, cameraToStageUm: [0.69, 0, 0, -0.69] as const }];
  const scene = { seed: 7, tray: trayNamed('tiny'), camera: { widthPx: 640, heightPx: 512, bits: 8, transfer: 'linear' as const }, objectives, lamp: 'halogen' as const };
  truth = await writeFrameSet({ directory: join(folder, 'set'), scene, exposureMs: 8, lampIntensity: 0.6, overlap: 0.15, withBlank: true, withDark: true });
  await truncate(join(folder, 'set', broken), 400);
  await unlink(join(folder, 'set', missing));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

describe('nightjar classify', () => {
  it('reports a broken and a missing image by name, classifies the rest, and ends with 1', async () => {
    const [out, picture] = [join(folder, 'flakes.json'), join(folder, 'map.png')];
    const { code, output, errors } = await runCli(['classify', join(folder, 'set'), '--out', out, '--picture', picture, '--workers', '2']);
    expect(code).toBe(1);
    const report = JSON.parse(await readFile(out, 'utf8')) as FrameSetReport;
    expect(report.problems.map(({ file, code: what }) => [file, what])).toEqual([[broken, 'brokenFile'], [missing, 'missingFile']]);
    for (const file of [broken, missing]) expect(errors).toContain(`${file}: `);
    expect(errors.match(/The other frames were classified\./g)).toHaveLength(2);
    expect(output).toBe(`${report.flakes.length} flakes counted.\n`);
    const seen = new Set(report.flakes.flatMap(({ frames }) => frames));
    expect(seen.has(broken) || seen.has(missing)).toBe(false);
    expect(seen.size).toBeGreaterThan(1);
    const { width, height, format } = await sharp(picture).metadata();
    expect([format, Math.min(width, height) > 100]).toEqual(['png', true]);
  });

  it('finds every plain monolayer of the frames that it has', async () => {
    const { output } = await runCli(['classify', join(folder, 'set'), '--json']);
    const { flakes } = JSON.parse(output) as FrameSetReport;
    const plain = truth.flakes.filter(({ terraces }) => terraces.length === 1 && terraces[0]?.layers === 1 && terraces[0].areaUm2 > 50);
    const found = plain.filter(({ centreUm: [x, y] }) => flakes.some(({ layers, centreUm }) => layers === 1 && Math.hypot(centreUm[0] - x, centreUm[1] - y) < 5));
    expect(plain.length).toBeGreaterThan(0);
    expect(found.length).toBe(plain.length);
  });

  it('ends with 2 on a folder without a frame set', async () => {
    const { code, errors } = await runCli(['classify', join(folder, 'nowhere')]);
    expect(code).toBe(2);
    expect(errors).toContain('frame-set.json');
  });
});
