import { afterEach, describe, expect, it } from 'vitest';
import { parseInstrument } from '../../../daemon/config/load.ts';
import { CliFolders, runCli } from './runCli.ts';

/** Protects: `nightjar calibrate` says its cautions, prints lines that the instrument file takes, and refuses words that it does not know. */

const folders = new CliFolders();
afterEach(() => folders.clear());

describe('nightjar calibrate', () => {
  it('explains itself', async () => {
    const { code, output } = await runCli(['calibrate', '--help']);
    expect(code).toBe(0);
    for (const word of ['<procedure>', '--at <x,y>', '--path <name>', '--to <name>', '--pitch-um <um>', '--instrument <file>']) expect(output).toContain(word);
    for (const word of ['camera  ', 'backlash  ', 'objectives  ', 'scale  ']) expect(output).toContain(word);
    expect(output).toContain('The instrument file is not written');
  });

  it.each([
    [['calibrate', 'lamp'], 'one of camera, backlash, objectives, scale, linearity is wanted'],
    [['calibrate', 'camera', '--at', '20000'], '--at 20000: x,y in um is wanted'],
    [['calibrate', 'camera', '--at', '1,2,3'], '--at 1,2,3'],
    [['calibrate', 'scale', '--pitch-um', '0'], '--pitch-um 0: a length in um above 0 is wanted'],
    [['calibrate', 'camera', '--focus-range-um', 'wide'], '--focus-range-um wide'],
    [['calibrate', 'camera', '--path', 'nowhere'], 'there is no optical path "nowhere"'],
    [['calibrate', 'objectives'], 'There is no optical path with another objective'],
  ])('ends with 2 on %j, and nothing has moved', async (words, said) => {
    const { instrument } = folders.make();
    const { code, output, errors } = await runCli([...words, '--instrument', instrument]);
    expect(code).toBe(2);
    expect(errors).toContain(said);
    expect(output).toBe('');
  });

  it('lays the micrometer out in words, measures, and prints a magnification that the file takes', async () => {
    const { instrument } = folders.make((file) => {
      file.simulator.tray = 'micrometer';
      file.stage.backlashUm = 15;
    });
    const { code, output, errors } = await runCli(['calibrate', 'scale', '--instrument', instrument, '--at', '20000,20000']);
    expect(errors).not.toContain('No calibration');
    expect(code).toBe(0);
    expect(output).toContain('Keep hands and loose parts away.');
    expect(output).toContain('It is not a safety device');
    expect(output).toContain('A stage micrometer for reflected light is wanted');
    const [, magnification = ''] = /\nobjectives:\n {2}10x:\n {4}magnification: ([\d.]+)\n/.exec(output) ?? [];
    // The simulated objective is what the file says.
    expect(Math.abs(Number(magnification) / 10 - 1)).toBeLessThan(0.001);
  }, 60_000);

  it('prints slack that the file takes as it stands', async () => {
    const { instrument } = folders.make();
    const { code, output, errors } = await runCli(['calibrate', 'backlash', '--instrument', instrument, '--at', '20000,20000']);
    expect(errors).not.toContain('No calibration');
    expect(code).toBe(0);
    const [, lines = ''] = /For instrument\.yaml:\n\nstage:\n((?: {2}.*\n)+)/.exec(output) ?? [];
    const config = parseInstrument(
      `instrument: Test
limits: { xMinUm: 0, xMaxUm: 75000, yMinUm: 0, yMaxUm: 50000, zMinUm: 900, zMaxUm: 8000, safeHeightUm: 3000 }
stage:
  driver: simulated
${lines}focus: { driver: simulated, expectedUm: 1000 }
camera: { driver: simulated, widthPx: 256, heightPx: 208, pixelPitchUm: 6.9, transfer: linear }
turret: { driver: simulated }
lamp: { driver: simulated }
objectives: { 10x: { magnification: 10, numericalAperture: 0.3, turretPosition: 0 } }
cameraToStage: {}
opticalPaths: { survey: { objective: 10x, lampIntensity: 0.6, exposureMs: 8 } }
`,
      'printed lines',
    );
    // The simulated stage's slack is 12 um on both axes.
    for (const playUm of config.stage.playUm ?? [NaN]) expect(Math.abs(playUm - 12)).toBeLessThan(0.6);
    expect(config.stage.backlashUm).toBeGreaterThan(12);
  }, 60_000);
});
