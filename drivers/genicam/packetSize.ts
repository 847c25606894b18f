import type { CameraSettings, Clock } from '../interfaces/index.ts';
import type { ConfiguredCamera } from './configured.ts';
import { FrameMemory } from './frameMemory.ts';
import type { Library } from './library.ts';
import type { OpenOptions } from './messages.ts';
import { takeFreeRun, takeTriggered } from './take.ts';

/** Bytes of a network packet in networks with jumbo frames, as they are commonly set up (common practice, no source). */
const JUMBO_BYTES = 9000;

/**
 * For cameras that cannot send test packets, for which the library stays at its 1,400 bytes: one short exposure in large packets shows
 * whether they arrive. Two to three times faster where they do; where they do not, opening takes some seconds longer.
 * Returns the size that the camera is left with.
 */
export function tryLargePackets(library: Library, clock: Clock, camera: ConfiguredCamera, options: OpenOptions): number {
  const { handle } = camera.device;
  const small = camera.setUp.packetSizeBytes;
  const { exposureMinMs, gainMinDb } = camera.setUp.bounds;
  const settings: CameraSettings = camera.apply({ exposureMs: exposureMinMs, gainDb: gainMinDb });
  library.setPacketSize(handle, JUMBO_BYTES);
  camera.renewStream();
  const take = options.triggering === 'freeRun' ? takeFreeRun : takeTriggered;
  const shot = take({ library, clock, camera, settings, options, memory: new FrameMemory(), onExposed: () => undefined });
  if ('frame' in shot && library.packetSize(handle) === JUMBO_BYTES) return JUMBO_BYTES;
  library.setPacketSize(handle, small);
  camera.renewStream();
  return small;
}
