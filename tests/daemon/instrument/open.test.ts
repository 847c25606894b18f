import { afterEach, describe, expect, it } from 'vitest';
import { hasCode } from '../../../daemon/errors/index.ts';
import { openSimulatedInstrument, type OpenInstrument } from '../../../daemon/instrument/open.ts';
import { DriverError } from '../../../drivers/interfaces/index.ts';
import { instantClock } from '../../support/instantClock.ts';
import { tinyFiles, type TinyChange } from '../../support/tinyFiles.ts';
import { trayNames } from '../../../simulators/index.ts';

/** Protects: what the opener hands out is behind the safety gate, is the instrument of the file, and keeps the pace that is asked. */

const opened: OpenInstrument[] = [];
afterEach(async () => {
  for (const each of opened.splice(0)) await each.close();
});

const startMs = 1_700_000_000_000;

function open(change?: TinyChange) {
  const { config } = tinyFiles(change);
  const realClock = instantClock(startMs);
  const opener = openSimulatedInstrument(config, { realClock, startMs, renderIn: 'here' });
  opened.push(opener);
  return { opener, realClock, limits: config.limits, ...opener.instrument };
}

const codeOf = (work: Promise<unknown>): Promise<string> => work.then(() => 'nothing', (error: unknown) => (error instanceof DriverError ? error.code : String(error)));

describe('the opened instrument', () => {
  it('refuses what its limits forbid, whichever device is asked', async () => {
    const { stage, focus, lamp, turret, limits } = open();
    expect(await codeOf(stage.moveTo({ xUm: limits.xMaxUm + 1, yUm: 100 }))).toBe('limit');
    expect(await codeOf(focus.moveTo(limits.zMinUm - 1))).toBe('limit');
    expect(await codeOf(lamp.setIntensity(limits.maxLampIntensity + 0.01))).toBe('lampLimit');
    expect(await codeOf(turret.moveTo(1))).toBe('limit');
    await focus.moveTo(limits.safeHeightUm - 1);
    const { xUm, yUm } = await stage.position();
    expect(await codeOf(stage.moveTo({ xUm: xUm + limits.maxLowTravelUm + 1, yUm }))).toBe('unsafeHeight');
    expect(await codeOf(stage.moveTo({ xUm: xUm + 10, yUm }, { speedUmPerS: limits.maxLowSpeedUmPerS + 1 }))).toBe('tooFast');
    expect(await codeOf(stage.home())).toBe('unsafeHeight');
    expect(await codeOf(stage.moveTo({ xUm: xUm + 10, yUm }))).toBe('nothing');
  });

  it('has the turret, camera and starting place of the file', async () => {
    const { camera, turret, focus, limits } = open((instrument) => Object.assign(instrument.objectives, { '50x': { magnification: 50, numericalAperture: 0.8, turretPosition: 2 } }));
    expect(camera.info).toMatchObject({ widthPx: 256, heightPx: 208, bits: 8, pixelFormat: 'rgb8' });
    // Places 0 and 2 are taken; 1 is empty but there.
    expect(turret.positions).toBe(3);
    expect(await focus.position()).toBe(limits.zMaxUm);
  });

  it('moves in its own time, or in real time when a person watches', async () => {
    const { opener, realClock, focus, clock } = open();
    await focus.moveTo(7000);
    expect(clock.now()).toBeGreaterThan(startMs + 1900);
    expect(realClock.now()).toBe(startMs);
    opener.setPace('real');
    const [before, realBefore] = [clock.now(), realClock.now()];
    await focus.moveTo(6000);
    await focus.moveTo(5000);
    expect(realClock.now() - realBefore).toBeCloseTo(clock.now() - before, -1);
  });

  it('knows no tray by another name', () => {
    const { config } = tinyFiles((instrument) => (instrument.simulator.tray = 'huge'));
    let found: unknown;
    try {
      openSimulatedInstrument(config, { realClock: instantClock(startMs) });
    } catch (error) {
      found = error;
    }
    expect(hasCode(found, 'unknownTray') && found.details).toEqual({ tray: 'huge', known: trayNames });
  });
});
