import { join } from 'node:path';
import { afterAll, afterEach, describe, expect, it, vi } from 'vitest';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { FakeFirmware, type FakeFirmwareOptions } from '../../../simulators/farEnd/firmware/fakeFirmware.ts';
import type { TinyChange } from '../../support/tinyFiles.ts';
import { CliFolders, runCli } from './runCli.ts';

/** Protects: an instrument on a real line (serial port, far end with other code) is opened from its file, homed, and known again the next time. */

const folders = new CliFolders();
afterAll(() => folders.clear());
const fakes: FakeFirmware[] = [];
afterEach(() => {
  vi.unstubAllEnvs();
  for (const fake of fakes.splice(0)) fake.close();
});

function firmware(options: Partial<FakeFirmwareOptions> = {}): FakeFirmware {
  const fake = new FakeFirmware({ clock: createSystemClock(), build: { baudRate: 921_600 }, ...options });
  fakes.push(fake);
  return fake;
}

/** Stage and focus drive of the fake, as it is built: 4000 steps a mm on x and y, 10000 on z; homing goes to the far ends. */
function fileFor(fake: FakeFirmware, change: TinyChange = () => undefined) {
  const files = folders.make((instrument, sheet) => {
    Object.assign(instrument.limits, { xMinUm: 16_000, xMaxUm: 19_000, yMinUm: 1000, yMaxUm: 4000, zMinUm: 2800, zMaxUm: 4000, safeHeightUm: 3500 });
    Object.assign(instrument, {
      lines: { motion: { serial: { port: fake.stableName } } },
      stage: { driver: 'gcode', line: 'motion', gcode: { x: { zeroAtUm: 20_000, stepsPerMm: 4000 }, y: { reversed: true, stepsPerMm: 4000 } } },
      focus: { driver: 'gcode', line: 'motion', gcode: { z: { zeroAtUm: 5000, stepsPerMm: 10_000 } }, expectedUm: 3000 },
    });
    change(instrument, sheet);
  });
  vi.stubEnv('XDG_STATE_HOME', join(files.folder, 'state'));
  return files;
}

describe('nightjar home', () => {
  it('homes a real controller, objective first, and says where it is', async () => {
    const { instrument } = fileFor(firmware());
    const refused = await runCli(['home', '-i', instrument]);
    expect([refused.code, refused.output]).toEqual([1, expect.stringMatching(/^CAUTION\.[^]*Home now\? Not without a terminal to ask at, or --yes\.\nNothing has moved\.\n$/)]);
    const homed = await runCli(['home', '-i', instrument, '--yes']);
    expect([homed.code, homed.errors]).toEqual([0, '']);
    expect(homed.output).toMatch(/Home now\? Yes, by --yes\.\nThe stage is at 19 mm, 1 mm, the objective at (3\.5|4) mm\.\n$/);
  });

  it('says what is wrong with a file that does not fit the controller, and where nothing is', async () => {
    const other = fileFor(firmware(), (instrument) => void Object.assign(instrument.stage, { gcode: { x: { zeroAtUm: 20_000, stepsPerMm: 400 }, y: { reversed: true, stepsPerMm: 4000 } } }));
    const differs = await runCli(['home', '-i', other.instrument, '--yes']);
    expect([differs.code, differs.errors]).toEqual([2, expect.stringMatching(/^What a device says of itself is not what the instrument file says \(.*400.*4000|^What a device says of itself.*4 ?000/)]);
    const nothing = fileFor(firmware(), (instrument) => void Object.assign(instrument, { lines: { motion: { serial: { port: join('/dev', 'serial', 'by-id', 'nobody') } } } }));
    const nowhere = await runCli(['home', '-i', nothing.instrument, '--yes']);
    expect([nowhere.code, nowhere.errors]).toEqual([2, expect.stringMatching(/^There is no such line to a device \(line .*nobody/)]);
  });
});
