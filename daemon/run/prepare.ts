import { DriverError, type Camera, type CameraFrame, type CameraSettings } from '../../drivers/interfaces/index.ts';
import { DARK_FRAMES } from '../../planner/plan/forecast.ts';
import { NightjarError } from '../errors/index.ts';
import { readDark, type DarkReading } from '../vision/darkFrame.ts';
import { raise } from './approach.ts';
import type { NightContext } from './context.ts';

/** What the camera does with an exposure must be what it was told, within this share. */
const exposureTolerance = 0.01;
/** Room left on the disk beyond what the plan wants. */
const diskMargin = 1.1;

/**
 * Makes ready before the first move: room on the disk, stage referenced, objective up and in place, camera set and read back, its dark
 * level measured, field stop open, light on. Resolves with what the camera gives without light.
 */
export async function prepare(context: NightContext, signal: AbortSignal): Promise<DarkReading> {
  const { instrument, path, records } = context;
  const wantedBytes = bytesToCome(context) * diskMargin;
  const freeBytes = await context.freeBytes();
  if (freeBytes < wantedBytes) throw new NightjarError('diskFull', { directory: records.directory, wantedBytes, freeBytes });
  const state = await instrument.stage.state();
  if (state === 'positionLost' || state === 'closed') throw new DriverError(state, { device: 'stage' });
  await raise(instrument, context.travel.safeHeightUm, signal);
  if (state === 'alarm') await instrument.stage.home(signal);
  if ((await instrument.turret.position()) !== path.turretPosition) await instrument.turret.moveTo(path.turretPosition);
  await configureCamera(instrument.camera, { exposureMs: path.exposureMs, gainDb: path.gainDb });
  await instrument.fieldStop?.setOpening(1);
  await instrument.lamp.setIntensity(0);
  const dark = await measureDark(context, signal);
  await instrument.lamp.setIntensity(path.lampIntensity);
  return dark;
}

/** What the tiles still to be taken will need: a night that goes on after a full disk has written most of it. */
function bytesToCome({ plan, records, runId }: NightContext): number {
  const open = plan.tileCount - records.tileCount(runId);
  return plan.tileCount === 0 ? 0 : (plan.diskBytes * open) / plan.tileCount;
}

/** Frames with the lamp off: what the camera gives without light is taken off every frame later. */
async function measureDark({ instrument, config }: NightContext, signal: AbortSignal): Promise<DarkReading> {
  const frames: CameraFrame[] = [];
  for (let n = 0; n < DARK_FRAMES; n++) frames.push(await instrument.camera.snap(signal));
  return readDark(frames, config.camera.transfer);
}

/** Sets the camera and holds it to what it was told. Throws `unsupported` when it uses another exposure. */
export async function configureCamera(camera: Camera, wanted: CameraSettings): Promise<void> {
  const used = await camera.configure(wanted);
  if (Math.abs(used.exposureMs - wanted.exposureMs) > exposureTolerance * wanted.exposureMs)
    throw new DriverError('unsupported', { device: 'camera', what: 'exposure', wantedMs: wanted.exposureMs, foundMs: used.exposureMs });
}
