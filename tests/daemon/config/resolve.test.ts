import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import {
  cameraToStageFor, opticalPathFor, parseInstrument, parseRunSheet, planRequestFor, readSource, safetyLimitsFor,
} from '../../../daemon/config/index.ts';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import { instrumentText, problemsOf, runSheetText } from './samples.ts';

const instrument = parseInstrument(instrumentText, 'instrument.yaml');

describe('what follows from both files', () => {
  it('an optical path with its pixel: pitch over magnification', () => {
    const path = opticalPathFor('close', instrument);
    expect(path).toMatchObject({ objective: '50x', turretPosition: 1, numericalAperture: 0.8, illuminationNa: 0.6, lampIntensity: 0.8, exposureMs: 15, parfocalUm: 12.5 });
    expect(path.pixelUm).toBeCloseTo(6.9 / 50, 12);
    expect(path.cameraToStageUm[0]).toBeCloseTo(0.138, 12);
    expect(opticalPathFor('search', instrument).illuminationNa).toBe(0.3);
    expect(problemsOf(() => opticalPathFor('toString', instrument))).toHaveLength(1);
  });

  it('a request to the planner', () => {
    const request = planRequestFor(parseRunSheet(runSheetText, 'sheet.yaml'), instrument);
    expect(request.chips).toEqual([
      { name: 'K-07', waitsForFrame: false, edgeMarginUm: 300, outline: { shape: 'rectangle', centreUm: { xUm: 20_000, yUm: 15_000 }, widthUm: 3000, heightUm: 3000, angleDeg: 4 } },
      { name: 'K-08', waitsForFrame: true, edgeMarginUm: 300, outline: { shape: 'polygon', cornersUm: [{ xUm: 30_000, yUm: 15_000 }, { xUm: 33_000, yUm: 15_000 }, { xUm: 31_500, yUm: 18_000 }] } },
    ]);
    expect(request).toMatchObject({ frameWidthPx: 1224, frameHeightPx: 1024, overlap: 0.1, focusPointsPerChip: 7, lowTravel: { maxUm: 3000, raiseUm: 2000 } });
    expect(request.timing).toMatchObject({ settleMs: 50, backlashUm: 15, exposureMs: 8, readoutMs: 40 });
    expect(request.limits).toEqual({ xMinUm: 0, xMaxUm: 75_000, yMinUm: 0, yMaxUm: 50_000, zMinUm: 0, zMaxUm: 10_000 });
    // 0.55 um sqrt(1 - 0.3^2)/0.3^2 = 5.83 um.
    expect(request.focus.rangeUm).toBe(40);
    expect(request.focus.depthOfFieldUm).toBeCloseTo(5.83, 2);
  });

  it('a circle', () => {
    const text = runSheetText.replace(/outline: \{ rectangle.*/, 'outline: { circle: { centreUm: [9000, 8000], radiusUm: 1500 } }');
    expect(planRequestFor(parseRunSheet(text, 's'), instrument).chips[0]?.outline).toEqual({ shape: 'circle', centreUm: { xUm: 9000, yUm: 8000 }, radiusUm: 1500 });
  });

  it('the limits of the safety gate', () => {
    expect(safetyLimitsFor(instrument)).toMatchObject({ safeHeightUm: 6000, maxLowTravelUm: 3000, maxLampIntensity: 1 });
  });

  it('a measured matrix takes the place of rotation and mirroring, in units of the nominal pixel', () => {
    const measured = { ...instrument, cameraToStage: { ...instrument.cameraToStage, matrix: [0, -1, 1.01, 0] as [number, number, number, number] } };
    expect(cameraToStageFor(measured, 0.5)).toEqual([0, -0.5, 0.505, 0]);
  });
});

describe('reading a file', () => {
  const made: string[] = [];
  afterEach(() => Promise.all(made.splice(0).map((directory) => rm(directory, { recursive: true }))));

  async function folder(): Promise<string> {
    const directory = await mkdtemp(join(tmpdir(), 'nightjar-config-'));
    made.push(directory);
    return directory;
  }

  it('gives text and name', async () => {
    const file = join(await folder(), 'sheet.yaml');
    await writeFile(file, runSheetText);
    expect(await readSource(file)).toEqual({ file, text: runSheetText });
  });

  it('says when it is not there, is a folder or is far too large', async () => {
    const directory = await folder();
    const large = join(directory, 'large.yaml');
    await writeFile(large, Buffer.alloc(1_048_577, 0x20));
    const code = (file: string) => readSource(file).then(() => 'read', (error: unknown) => sentenceFor(error).code);
    expect(await code(join(directory, 'none.yaml'))).toBe('noSuchFile');
    expect(await code(directory)).toBe('unreadableFile');
    expect(await code(large)).toBe('badConfig');
  });
});
