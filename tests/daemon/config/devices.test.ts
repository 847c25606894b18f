import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parseInstrument } from '../../../daemon/config/load.ts';
import { readSource } from '../../../daemon/config/readSource.ts';
import { sourceFile } from '../../../daemon/builtFile.ts';
import { hasCode, type ConfigProblem } from '../../../daemon/errors/index.ts';
import { tinyTexts } from '../../support/tinyFiles.ts';

/** Protects: an instrument file of real devices is understood, and one that cannot be right is refused with the key to change. Laws of our own. */

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightjar-devices-'));
});
afterAll(() => rm(folder, { recursive: true }));

type Changes = Readonly<Record<string, unknown>>;

const textWith = (changes: Changes): string => tinyTexts((instrument) => void Object.assign(instrument, changes)).instrumentText;

function problemsOf(changes: Changes): readonly Pick<ConfigProblem, 'key' | 'message'>[] {
  try {
    parseInstrument(textWith(changes), 'instrument.yaml');
    return [];
  } catch (error) {
    if (!hasCode(error, 'badConfig')) throw error;
    return error.details.problems.map(({ key, message }) => ({ key, message }));
  }
}

const steps = { stepsPerMm: 400 };
const gcode = { x: steps, y: steps };
const motion = { motion: { serial: { port: '/dev/serial/by-id/usb-bench-stage' } } };

describe('devices of an instrument file', () => {
  it('are reached by lines that have names', () => {
    const config = parseInstrument(
      textWith({
        lines: { ...motion, box: { tcp: { host: '127.0.0.1', port: 4400 } } },
        stage: { driver: 'gcode', line: 'motion', gcode: { x: { zeroAtUm: 75_000, ...steps }, y: { reversed: true, ...steps } } },
      }),
      'instrument.yaml',
    );
    expect(config.lines.motion?.serial).toEqual({ port: '/dev/serial/by-id/usb-bench-stage', baudRate: 115_200 });
    expect(config.stage.gcode).toMatchObject({ x: { letter: 'X', zeroAtUm: 75_000, reversed: false }, y: { letter: 'Y', reversed: true }, reference: 'homing' });
  });

  it.each<[string, Changes, string, RegExp]>([
    ['a line that is not there', { lines: motion, stage: { driver: 'gcode', line: 'motoin', gcode } }, 'stage.line', /no line under `lines` "motoin"; the nearest is "motion"/],
    ['a driver without what it needs', { stage: { driver: 'gcode' } }, 'stage', /driver gcode needs line/],
    ['what belongs to another driver', { lamp: { driver: 'simulated', line: 'x' } }, 'lamp.line', /is not for driver simulated/],
    ['a line with two ends', { lines: { motion: { ...motion.motion, tcp: { host: 'a', port: 1 } } } }, 'lines.motion', /exactly one of serial, tcp/],
    ['two drivers on one line', { lines: motion, stage: { driver: 'gcode', line: 'motion', gcode }, lamp: { driver: 'described', line: 'motion' } }, 'lamp.line', /is spoken to by driver gcode already/],
    ['a described device without its file', { lines: motion, lamp: { driver: 'described', line: 'motion' } }, 'lines.motion', /needs deviceFile/],
    ['an objective on a turret that is turned by hand', { turret: { driver: 'byHand' }, objectives: { '10x': { magnification: 10, numericalAperture: 0.3, turretPosition: 1 } } }, 'objectives.10x.turretPosition', /must be 0/],
    ['an exposure that a pipe cannot change', { camera: { driver: 'rawVideo', rawVideo: { command: ['camera'], exposureMs: 10 }, widthPx: 256, heightPx: 208, pixelPitchUm: 6.9 } }, 'opticalPaths.survey.exposureMs', /must be camera.rawVideo.exposureMs \(10\), not 8/],
    ['a camera that is named twice', { camera: { driver: 'genicam', genicam: { serial: 'A1', address: '127.0.0.1' }, widthPx: 256, heightPx: 208, pixelPitchUm: 6.9 } }, 'camera.genicam.address', /not by both/],
    ['one letter for two axes', { lines: motion, stage: { driver: 'gcode', line: 'motion', gcode: { x: steps, y: { ...steps, letter: 'X' } } } }, 'stage.gcode.y.letter', /is the letter of x/],
    ['an unknown key of a driver', { lines: motion, stage: { driver: 'gcode', line: 'motion', gcode: { x: { ...steps, zeroUm: 3 }, y: steps } } }, 'stage.gcode.x.zeroUm', /the nearest valid key is "zeroAtUm"/],
  ])('refuses %s', (_, changes, key, message) => {
    expect(problemsOf(changes)).toContainEqual({ key, message: expect.stringMatching(message) as unknown });
  });
});

describe('the file that describes a device', () => {
  const box = sourceFile('daemon/demo/devices/marrowbeck-lt4.yaml');
  const withBox = (deviceFile: string): Changes => ({ lines: { box: { tcp: { host: '127.0.0.1', port: 4400 }, deviceFile } }, lamp: { driver: 'described', line: 'box' } });
  const read = async (changes: Changes) => {
    const file = join(folder, 'instrument.yaml');
    await writeFile(file, textWith(changes));
    return parseInstrument((await readSource(file)).text, file);
  };

  it('is read from beside the instrument file and kept in its text, so that a night can go on without it', async () => {
    const { lines, lamp } = await read(withBox(box));
    expect(lamp).toMatchObject({ driver: 'described', line: 'box' });
    expect(lines.box?.deviceFile).toContain('maker: Marrowbeck');
  });

  it('is named when it is not there, does not say what is asked of it, or has a wrong key', async () => {
    await expect(read(withBox('nowhere.yaml'))).rejects.toMatchObject({ code: 'badConfig', details: { problems: [{ key: 'deviceFile', message: expect.stringContaining('nowhere.yaml: there is no file') }] } });
    await expect(read({ ...withBox(box), stage: { driver: 'described', line: 'box' } })).rejects.toMatchObject({ details: { problems: [{ key: 'stage.line', message: 'the device file of line "box" describes no stage' }] } });
    const stageFile = sourceFile('daemon/demo/devices/quillfen-qf200.yaml');
    const withStage = { lines: { motion: { ...motion.motion, deviceFile: stageFile } }, stage: { driver: 'described', line: 'motion' } };
    await expect(read(withStage)).rejects.toMatchObject({ details: { problems: [{ key: 'limits.xMaxUm', message: expect.stringMatching(/beyond the end of the device's travel \(20000\)/) }, { key: 'limits.yMaxUm' }] } });
    await expect(read({ ...withBox(box), turret: { driver: 'described', line: 'box' }, objectives: { '10x': { magnification: 10, numericalAperture: 0.3, turretPosition: 5 } } })).rejects.toMatchObject({ details: { problems: [{ key: 'objectives.10x.turretPosition', message: expect.stringContaining('must be below 5') }] } });
    await writeFile(join(folder, 'wrong.yaml'), 'maker: Oxbow\nmodel: O-1\nidentfy: { send: ID, expect: ME }\nlamp: {}\n');
    await expect(read(withBox('wrong.yaml'))).rejects.toMatchObject({ details: { problems: expect.arrayContaining([{ line: expect.any(Number), key: 'lines.box.deviceFile', message: expect.stringMatching(/^line 3 of the device file, identfy: unknown key "identfy"; the nearest valid key is "identify"/) }]) as unknown } });
  });
});
