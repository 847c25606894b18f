import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pino from 'pino';
import { openRecords } from '../../daemon/records/index.ts';
import { Observatory } from '../../daemon/run/observatory.ts';
import { beginNight } from '../../daemon/run/openNight.ts';
import { createSystemClock } from '../../drivers/clock/systemClock.ts';
import { openGcodeController } from '../../drivers/gcode/index.ts';
import { openGenicamCamera } from '../../drivers/genicam/index.ts';
import { serialOpener } from '../../drivers/line/serialWire.ts';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import type { Camera, Instrument, Stage } from '../../drivers/interfaces/index.ts';
import { createSimulatedMicroscope } from '../../simulators/index.ts';
import { FakeFirmware } from '../../simulators/farEnd/firmware/fakeFirmware.ts';
import { cameraToStageFor } from '../../daemon/config/resolve.ts';
import { pixelSizeUm } from '../../planner/plan/objective.ts';
import { inlinePool } from '../support/inlinePool.ts';
import { fewTiles, tinyFiles } from '../support/tinyFiles.ts';
import { trayNamed } from '../simulators/smallMicroscope.ts';

export const clock = createSystemClock();

/** What happened to a night of which a device was taken away. Seconds. */
export interface NightOutcome {
  readonly phase: string;
  readonly cause: string;
  readonly tiles: number;
  readonly planned: number;
  readonly skipped: number;
  /** From the device's return until the next tile was recorded. */
  readonly goesOnAfterS: number;
  readonly events: readonly string[];
}

interface Trouble {
  /** Takes the device away, and brings it back in the end. */
  strike(): Promise<void>;
}

/** Where the fake controller's little travel lies on the stage of the tiny night, whose chip is at (20, 20) mm. */
const SHIFT_UM = { xUm: 10_000, yUm: 12_000 };

/** A stage that is moved by a real driver, and shows what the simulated one beneath it stands over. */
function shadowed(real: Stage, simulated: Stage): Stage {
  const toReal = ({ xUm, yUm }: { readonly xUm: number; readonly yUm: number }) => ({ xUm: xUm - SHIFT_UM.xUm, yUm: yUm - SHIFT_UM.yUm });
  const toNight = ({ xUm, yUm }: { readonly xUm: number; readonly yUm: number }) => ({ xUm: xUm + SHIFT_UM.xUm, yUm: yUm + SHIFT_UM.yUm });
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = real.travel;
  const follow = async () => {
    const at = toNight(await real.position());
    await simulated.moveTo(at);
    return at;
  };
  return {
    travel: { xMinUm: xMinUm + SHIFT_UM.xUm, xMaxUm: xMaxUm + SHIFT_UM.xUm, yMinUm: yMinUm + SHIFT_UM.yUm, yMaxUm: yMaxUm + SHIFT_UM.yUm },
    position: async () => toNight(await real.position()),
    state: () => real.state(),
    async moveTo(target, options) {
      await real.moveTo(toReal(target), options);
      return follow();
    },
    async home(signal) {
      await real.home(signal);
      await follow();
    },
    stop: () => real.stop(),
    close: () => real.close(),
  };
}

/** A camera whose every frame costs a frame of the real one: what becomes of that is what becomes of the night. */
function behind(real: Camera, simulated: Camera): Camera {
  return {
    info: simulated.info,
    async configure(settings) {
      await real.configure({ exposureMs: settings.exposureMs, gainDb: 0 });
      return simulated.configure(settings);
    },
    async snap(signal, onExposed) {
      await real.snap(signal);
      return simulated.snap(signal, onExposed);
    },
    async close() {
      await real.close();
      await simulated.close();
    },
  };
}

function microscope(files: ReturnType<typeof tinyFiles>) {
  const { config } = files;
  const objectives = Object.values(config.objectives).map(({ turretPosition: _, ...objective }) => ({ ...objective, cameraToStageUm: cameraToStageFor(config, pixelSizeUm(config.camera.pixelPitchUm, objective.magnification)) }));
  const { limits, camera, lamp } = config;
  const quick = { maxSpeedUmPerS: 1e6, accelerationUmPerS2: 1e9, settleMs: 0 };
  return createSimulatedMicroscope({
    seed: 7, tray: trayNamed('tiny'), camera, objectives, lamp: lamp.kind, clock, startMs: clock.now(),
    stage: { ...quick, travel: { xMinUm: limits.xMinUm, xMaxUm: limits.xMaxUm, yMinUm: limits.yMinUm, yMaxUm: limits.yMaxUm } },
    focus: { zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm, startAtUm: limits.zMaxUm, speedUmPerS: 50_000, accelerationUmPerS2: 1e7 },
  });
}

/** A night in real time on simulated devices, one of them with a real driver in front; the trouble strikes after three tiles. */
async function runNight(change: (simulated: Instrument) => Promise<{ readonly instrument: Instrument; readonly trouble: Trouble }>): Promise<NightOutcome> {
  const files = tinyFiles((instrument, sheet) => {
    fewTiles(instrument, sheet);
    Object.assign(instrument.focus, { settleMs: 0 });
    Object.assign(instrument.stage, { settleMs: 0 });
    instrument.limits.maxLowFocusSpeedUmPerS = 100_000;
  });
  const folder = mkdtempSync(join(tmpdir(), 'nightjar-driver-night-'));
  const records = openRecords(folder);
  const simulated = microscope(files).instrument;
  const { instrument: raw, trouble } = await change(simulated);
  const instrument = guardInstrument(raw, files.config.limits);
  const opener = { instrument, setPace: () => undefined, counters: () => ({}), close: async () => undefined };
  const observatory = new Observatory({ records, instrument: opener, config: files.config, pool: inlinePool(), log: pino({ enabled: false }), waitingClock: clock, freeBytes: async () => 1e12 });
  const opened = beginNight(records, files, clock.now());
  let struck: Promise<void> | undefined;
  let backAtMs = Number.NaN;
  let goesOnAtMs = Number.NaN;
  observatory.board.subscribe((message) => {
    if (message.type !== 'tile') return;
    if (records.tileCount(opened.runId) >= 3) struck ??= trouble.strike().then(() => void (backAtMs = clock.now()));
    if (Number.isFinite(backAtMs) && Number.isNaN(goesOnAtMs)) goesOnAtMs = clock.now();
  });
  try {
    const { phase, cause } = await observatory.runNight(opened);
    await struck;
    const tiles = records.tiles(opened.runId);
    const events = records.events(opened.runId).map(({ kind, text }) => `${kind}: ${text}`);
    return { phase, cause, tiles: tiles.length, planned: opened.plan.tileCount, skipped: tiles.filter(({ outcome }) => outcome === 'skipped').length, goesOnAfterS: (goesOnAtMs - backAtMs) / 1000, events };
  } finally {
    await raw.camera.close();
    await raw.stage.close();
    records.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

/** The stage's line is pulled and comes back under another device name, the board having restarted meanwhile. */
export async function nightWithoutStage(awayMs: number): Promise<NightOutcome> {
  const fake = new FakeFirmware({ clock, startsAtMm: [-7, -6, -2] });
  const axis = { sign: 1, originUm: 20_000, minUm: 4000, maxUm: 19_000, stepsPerMm: 4000 } as const;
  try {
    return await runNight(async (simulated) => {
      const { stage } = await openGcodeController({
        clock,
        openWire: serialOpener({ port: fake.stableName, baudRate: 115_200 }, clock),
        line: { line: fake.stableName, baudRate: 115_200 },
        stage: { x: { ...axis, letter: 'X' }, y: { ...axis, letter: 'Y', minUm: 5000, originUm: 20_000 } },
        reference: 'homing',
      });
      if (!stage) throw new Error('no stage');
      await stage.home();
      const strike = async () => {
        fake.unplug({ keepsPower: false });
        await clock.sleep(awayMs);
        fake.plugIn();
      };
      return { instrument: { ...simulated, stage: shadowed(stage, simulated.stage) }, trouble: { strike } };
    });
  } finally {
    fake.close();
  }
}

/** The camera is killed and started anew: `start` starts the fake one and gives the way to kill it. */
export async function nightWithoutCamera(awayMs: number, start: () => { kill(): void }): Promise<NightOutcome> {
  let fake = start();
  try {
    return await runNight(async (simulated) => {
      const camera = await openGenicamCamera({ clock, camera: { address: '127.0.0.1' }, binning: 4 });
      const strike = async () => {
        fake.kill();
        await clock.sleep(awayMs);
        fake = start();
      };
      return { instrument: { ...simulated, camera: behind(camera, simulated.camera) }, trouble: { strike } };
    });
  } finally {
    fake.kill();
  }
}
