import { formatOfPart } from '../frames/bayer.ts';
import { DriverError, type CameraFrame, type CameraSettings, type Clock, type Region } from '../interfaces/index.ts';
import type { ConfiguredCamera } from './configured.ts';
import type { Handle } from './fallible.ts';
import { wholeSensor } from './geometry.ts';
import type { FrameMemory } from './frameMemory.ts';
import { frameBytes } from './pixels.ts';
import type { Library } from './library.ts';
import type { OpenOptions } from './messages.ts';

/** The longest that one call of the library waits, and how often the first packet is looked for. */
const WAIT_MS = 100;
const LOOK_MS = 2;

export interface Shot {
  readonly frame: CameraFrame;
  readonly frameId: number;
}

/** Why there is no frame: a spoilt one can be asked for anew, one that never came points to a lost camera. */
export type Miss = { readonly kind: 'never'; readonly waitedMs: number } | { readonly kind: 'spoilt'; readonly error: DriverError };

/** What it takes to get one frame. */
export interface Taking {
  readonly library: Library;
  readonly clock: Clock;
  readonly camera: ConfiguredCamera;
  readonly settings: CameraSettings;
  readonly options: OpenOptions;
  readonly memory: FrameMemory;
  /** Called as soon as the exposure is surely over and the frame has not come yet; never where this cannot be known. */
  readonly onExposed: () => void;
}

function spoilt(reason: string): Miss {
  return { kind: 'spoilt', error: new DriverError('badFrame', { device: 'camera', reason }) };
}

function regionOf({ camera, settings }: Taking): Region {
  return settings.region ?? wholeSensor(camera.setUp.bounds.sensor);
}

function readShot(taking: Taking, buffer: Handle, takenAtMs: number): Shot | Miss {
  const { camera, settings, memory } = taking;
  const { stream, hardware, setUp } = camera;
  const status = stream.status(buffer);
  if (status !== 'good') return spoilt(status);
  const region = regionOf(taking);
  try {
    const { pixels, layout } = stream.read(buffer, region, hardware, memory);
    if (layout.format.code !== setUp.format.code) return spoilt(`another pixel format, ${layout.format.name}`);
    const { pixelFormat, bits } = layout.format;
    const frame = { widthPx: region.widthPx, heightPx: region.heightPx, pixelFormat: formatOfPart(pixelFormat, region), bits, data: pixels, exposureMs: settings.exposureMs, takenAtMs };
    return { frame, frameId: stream.frameId(buffer) };
  } catch (error) {
    if (error instanceof DriverError && error.code === 'badFrame') return { kind: 'spoilt', error };
    throw error;
  }
}

/** Waits until `untilMs`, and calls `onFirstPacket` when the frame has begun to arrive before it is there. */
function nextBuffer({ camera, clock }: Taking, untilMs: number, onFirstPacket?: () => void): Handle | null {
  const { stream } = camera;
  const before = onFirstPacket ? stream.packets().received : 0;
  let look = onFirstPacket;
  for (let leftMs = untilMs - clock.now(); leftMs > 0; leftMs = untilMs - clock.now()) {
    const buffer = stream.next(Math.min(leftMs, look ? LOOK_MS : WAIT_MS));
    if (buffer !== null) return buffer;
    if (!look || stream.packets().received === before) continue;
    look();
    look = undefined;
  }
  return null;
}

/** With the buffer in hand: read it, and give it back whatever happens. */
function readAndGiveBack(taking: Taking, buffer: Handle, takenAtMs: number): Shot | Miss {
  try {
    return readShot(taking, buffer, takenAtMs);
  } finally {
    taking.camera.stream.giveBack(buffer);
  }
}

/**
 * One trigger, one frame. What has arrived before is thrown away; since a trigger's frame is always waited for, or its stream replaced,
 * none can be under way: the frame that comes is this trigger's.
 */
export function takeTriggered(taking: Taking): Shot | Miss {
  const { library, clock, camera, settings, options } = taking;
  camera.stream.drain();
  const takenAtMs = clock.now();
  // From here on: packets that come are this frame's. With all rows exposed at once they are sent when its exposure is over.
  const begun = () => {
    if (clock.now() >= takenAtMs + settings.exposureMs) taking.onExposed();
  };
  library.softwareTrigger(camera.device.handle);
  taking.memory.prepare(frameBytes(camera.setUp.format, regionOf(taking)));
  const waitMs = settings.exposureMs + options.patienceMs;
  const buffer = nextBuffer(taking, takenAtMs + waitMs, camera.setUp.globalShutter ? begun : undefined);
  return buffer === null ? { kind: 'never', waitedMs: waitMs } : readAndGiveBack(taking, buffer, takenAtMs);
}

/**
 * In free run a frame is new when its first packet came later than the call by its whole exposure: then it began after the call. That
 * holds for cameras that send at once; for what a camera holds back in its own memory, `freeRunSkip` more are passed over.
 */
export function takeFreeRun(taking: Taking): Shot | Miss {
  const { clock, camera, settings, options } = taking;
  const { stream } = camera;
  stream.drain();
  const askedAtMs = clock.now();
  const waitMs = (2 + options.freeRunSkip) * settings.exposureMs + options.patienceMs;
  let skipped = 0;
  for (;;) {
    const buffer = nextBuffer(taking, askedAtMs + waitMs);
    if (buffer === null) return { kind: 'never', waitedMs: waitMs };
    // Rounded down: the clock counts whole ms.
    const takenAtMs = Math.floor(stream.arrivedAtMs(buffer) - settings.exposureMs);
    const isOld = takenAtMs < askedAtMs;
    if (!isOld && skipped >= options.freeRunSkip) return readAndGiveBack(taking, buffer, takenAtMs);
    if (!isOld) skipped++;
    stream.giveBack(buffer);
  }
}
