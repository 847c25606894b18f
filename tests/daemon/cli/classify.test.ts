import { mkdtemp, readFile, rm, truncate, unlink } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { FrameSetReport } from '../../../daemon/classify/report.ts';
import { barFrom, barText, type BarReport } from '../../../daemon/cli/bar.ts';
import { trayNamed } from '../../simulators/smallMicroscope.ts';
import { writeFrameSet, type FrameSetTruth } from '../../simulators/writeFrameSet.ts';
import { runCli, type CliEnd } from './runCli.ts';

/**
 * Protects: `nightjar classify` finds the flakes of stored frames, names the images that it cannot use, and classifies the rest. The
 * frames are the simulator's, so that nothing is said here of accuracy beyond that the plain ones are found.
 */

let folder = '';
let truth: FrameSetTruth;
let end: CliEnd;
let report: FrameSetReport & BarReport;
const broken = 'frame-0002.png';
const missing = 'frame-0006.png';
const fileIn = (name: string): string => join(folder, name);

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightjar-classify-'));
  const objectives = [{ magnification: 10, numericalAperture: 0.3, cameraToStageUm: [0.69, 0, 0, -0.69] as const }];
  const scene = { seed: 7, tray: trayNamed('tiny'), camera: { widthPx: 640, heightPx: 512, bits: 8, transfer: 'linear' as const }, objectives, lamp: 'halogen' as const };
  truth = await writeFrameSet({ directory: fileIn('set'), scene, exposureMs: 8, lampIntensity: 0.6, overlap: 0.15, withBlank: true, withDark: true });
  await truncate(join(folder, 'set', broken), 400);
  await unlink(join(folder, 'set', missing));
  end = await runCli(['classify', fileIn('set'), '--out', fileIn('flakes.json'), '--picture', fileIn('map.png'), '--workers', '2', '--bar', '3x2', '--json']);
  report = JSON.parse(await readFile(fileIn('flakes.json'), 'utf8')) as FrameSetReport & BarReport;
}, 120_000);
afterAll(() => rm(folder, { recursive: true, force: true }));

describe('nightjar classify', () => {
  it('reports a broken and a missing image by name, and ends with 1', () => {
    expect(end.code).toBe(1);
    expect(report.problems.map(({ file, code }) => [file, code])).toEqual([[broken, 'brokenFile'], [missing, 'missingFile']]);
    for (const file of [broken, missing]) expect(end.errors).toContain(`${file}: `);
    expect(end.errors.match(/The other frames were classified\./g)).toHaveLength(2);
    const seen = new Set(report.flakes.flatMap(({ frames }) => frames));
    expect(seen.has(broken) || seen.has(missing)).toBe(false);
    expect(seen.size).toBeGreaterThan(1);
  });

  it('says the best flakes in words, and what of the range of thickness is no range', async () => {
    const said = await runCli(['classify', fileIn('set'), '--workers', '2']);
    expect(said.output).toMatch(/^\d+ flakes, \d+ of them flagged; \d+ things were no flakes\.$/m);
    expect(said.output).toContain('1 layer ');
    expect(said.output).toContain('x and y: on the stage.');
    const refused = await runCli(['classify', fileIn('set'), '--thickness', '40-5']);
    expect(refused.code).toBe(2);
    expect(refused.errors).toContain('--thickness 40-5: a range in nm is wanted');
  }, 60_000);

  it('prints as JSON what it writes, and draws a map', async () => {
    expect(JSON.parse(end.output)).toEqual(report);
    const { width, height, format } = await sharp(fileIn('map.png')).metadata();
    expect([format, Math.min(width, height) > 100]).toEqual(['png', true]);
  });

  it('finds every plain monolayer of the frames that it has', () => {
    const plain = truth.flakes.filter(({ terraces }) => terraces.length === 1 && terraces[0]?.layers === 1 && terraces[0].areaUm2 > 50);
    const found = plain.filter(({ centreUm: [x, y] }) => report.flakes.some(({ layers, centreUm }) => layers === 1 && Math.hypot(centreUm[0] - x, centreUm[1] - y) < 5));
    expect(plain.length).toBeGreaterThan(0);
    expect(found.length).toBe(plain.length);
  });

  it('says on which flagged flakes a wanted bar fits: those whose largest bar is larger are among them', () => {
    const { wantedBar, flakes } = report;
    const sure = flakes.filter(({ verdict, bar }) => verdict === 'flagged' && bar !== undefined && bar.lengthUm > 3.3 && bar.widthUm > 2.2).map(({ id }) => id);
    expect([wantedBar.lengthUm, wantedBar.widthUm, wantedBar.flagged]).toEqual([3, 2, flakes.filter(({ verdict }) => verdict === 'flagged').length]);
    expect(sure.length).toBeGreaterThan(0);
    expect(wantedBar.fits.map(({ flake }) => flake)).toEqual(expect.arrayContaining(sure));
    expect(barText(report)).toMatch(new RegExp(`^A bar of 3 × 2 µm fits on ${wantedBar.fits.length} of ${wantedBar.flagged} flagged flakes?\\.\\nflake `));
  });

  it('understands a bar as length by width, and refuses anything else before it begins', async () => {
    expect(barFrom('5x20.5')).toEqual({ lengthUm: 20.5, widthUm: 5 });
    for (const wrong of ['20', '20x', '0x5', '-20x5', '20 by 5', '99999x5']) expect((await runCli(['classify', fileIn('set'), '--bar', wrong])).code).toBe(2);
  });

  it('ends with 2 on a folder without a frame set', async () => {
    const { code, errors } = await runCli(['classify', fileIn('nowhere')]);
    expect(code).toBe(2);
    expect(errors).toContain('frame-set.json');
  });
});
