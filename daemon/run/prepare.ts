import { DriverError, type Camera, type CameraFrame, type CameraSettings } from '../../drivers/interfaces/index.ts';
import { DARK_FRAMES } from '../../planner/plan/forecast.ts';
import { NightjarError } from '../errors/index.ts';
import { checkLinearity } from '../linearity/check.ts';
import { unknownSentence, worstOf } from '../linearity/words.ts';
import { readDark, type DarkReading } from '../vision/darkFrame.ts';
import { raise } from './approach.ts';
import type { NightContext } from './context.ts';

/** What the camera does with an exposure must be what it was told, within this share. */
const exposureTolerance = 0.01;
/** Until a halogen lamp that was switched off gives no light that a camera would see (common practice, no source). */
export const GLOW_MS = 1000;
/** Room left on the disk beyond what the plan wants. */
export const DISK_MARGIN = 1.1;

/**
 * Makes ready before the first move: room on the disk, stage referenced, objective up and in place, camera set and read back, its dark
 * level measured, field stop open, light on, a real camera's linearity checked. Resolves with what the camera gives without light; undefined
 * where only a person can switch the lamp.
 * @param tell told what people should know before the first move
 */
export async function prepare(context: NightContext, tell: (text: string) => void, signal: AbortSignal): Promise<DarkReading | undefined> {
  const { instrument, path, records } = context;
  const wantedBytes = bytesToCome(context) * DISK_MARGIN;
  const freeBytes = await context.freeBytes();
  if (freeBytes < wantedBytes) throw new NightjarError('diskFull', { directory: records.directory, wantedBytes, freeBytes });
  const state = await instrument.stage.state();
  if (state === 'positionLost' || state === 'closed') throw new DriverError(state, { device: 'stage' });
  await raise(instrument, context.travel.safeHeightUm, signal);
  if (state === 'alarm') await instrument.stage.home(signal);
  if ((await instrument.turret.position()) !== path.turretPosition) await instrument.turret.moveTo(path.turretPosition);
  await configureCamera(instrument.camera, { exposureMs: path.exposureMs, gainDb: path.gainDb });
  await instrument.fieldStop?.setOpening(1);
  const dark = await darkOf(context, tell, signal);
  await instrument.lamp.setIntensity(path.lampIntensity);
  await requireLinear(context, tell, signal);
  return dark;
}

/** What the camera gives without light; undefined where only a person could make it dark. */
async function darkOf(context: NightContext, tell: (text: string) => void, signal: AbortSignal): Promise<DarkReading | undefined> {
  const { lamp } = context.instrument;
  if (lamp.isByHand) {
    tell('The lamp is switched by hand: no dark frame is taken, and nothing is taken off the frames. Contrast comes out a little too small.');
    return undefined;
  }
  await lamp.setIntensity(0);
  // A filament glows on for a while. The simulated lamp is dark at once, and its nights take the time that is forecast.
  if (context.config.lamp.driver !== 'simulated') await context.instrument.clock.sleep(GLOW_MS, signal);
  return measureDark(context, signal);
}

/**
 * Holds a real camera to twice the light for twice the exposure; where that cannot be judged, it is said. Throws `notLinear`.
 * Not asked of the simulated camera, so that nights without hardware take the time that is forecast.
 */
async function requireLinear({ instrument, config, path }: NightContext, tell: (text: string) => void, signal: AbortSignal): Promise<void> {
  const { camera, lamp, clock } = instrument;
  if (!(config.camera.checkLinearity ?? config.camera.driver === 'genicam')) return;
  const result = await checkLinearity(camera, lamp, { ...path, transfer: config.camera.transfer }, clock, signal);
  if (result.verdict === 'unknown') {
    tell(unknownSentence(result.why));
    return;
  }
  const worst = worstOf(result.measured);
  if (result.verdict === 'linear' || !worst) return;
  const { longMs, shortMs } = result.measured;
  throw new NightjarError('notLinear', { channel: worst.name, found: worst.ratio, wanted: longMs / shortMs, uncertainty: worst.ratio * worst.uncertainty });
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
