import type { DeviceName, FaultName, Faults } from './faults.ts';

/** A fault's name without the device that it befalls. */
export type FaultKind<N extends string = FaultName> = N extends `${infer Kind}:${DeviceName}` ? Kind : N;

export interface DescribedFault {
  /** What happens, in one sentence. */
  readonly sentence: string;
  /** The devices that it may befall; none where it is not of one device. */
  readonly devices?: readonly DeviceName[];
  /** Lets it happen now, as it usually does. */
  readonly strike: (faults: Faults, device: DeviceName) => void;
}

const everyDevice: readonly DeviceName[] = ['stage', 'focus', 'camera', 'turret', 'lamp', 'fieldStop'];
const MINUTE_MS = 60_000;

/** Every fault by kind, for rehearsals. One is missing here when this does not compile. */
export const faultKinds: Readonly<Record<FaultKind, DescribedFault>> = {
  stallX: { sentence: 'the next move along x stops half-way', strike: (faults) => faults.stallAxis('x') },
  stallY: { sentence: 'the next move along y stops half-way', strike: (faults) => faults.stallAxis('y') },
  stallZ: { sentence: 'the next move of the focus drive stops half-way', strike: (faults) => faults.stallAxis('z') },
  hitLimit: { sentence: 'the stage trips a limit switch and stands in alarm', strike: (faults) => faults.hitLimit() },
  dropFrame: { sentence: 'the next frame never comes', strike: (faults) => faults.dropFrame() },
  corruptFrame: { sentence: 'the next frame arrives torn, and the camera says so', strike: (faults) => faults.corruptFrame() },
  blackFrame: { sentence: 'the next frame sees no light', strike: (faults) => faults.blackFrame() },
  saturatedFrame: { sentence: 'the next frame is full everywhere', strike: (faults) => faults.saturate() },
  repeatFrame: { sentence: 'the camera gives the frame before once more', strike: (faults) => faults.repeatFrame() },
  tearFrame: { sentence: 'the lower part of the next frame is of the frame before, and nothing says so', strike: (faults) => faults.tearFrame() },
  loseLamp: { sentence: 'the lamp dies, though it still answers', strike: (faults) => faults.loseLamp() },
  fadeLamp: { sentence: 'the lamp fades to nothing within a minute', strike: (faults) => faults.fadeLamp(MINUTE_MS) },
  jumpFocus: { sentence: 'the sample jumps up by 8 um', strike: (faults) => faults.jumpFocus(8) },
  driftFocus: { sentence: 'the sample rises by 1 um a minute', strike: (faults) => faults.driftFocus(1) },
  jumpClock: { sentence: 'the computer\'s clock is set forwards by an hour', strike: (faults) => faults.jumpClock(60 * MINUTE_MS) },
  slowWork: { sentence: 'the next ten pieces of the computer\'s work take half a minute longer', strike: (faults) => faults.slowWork(MINUTE_MS / 2, 10) },
  hangWork: { sentence: 'the next piece of the computer\'s work never ends', strike: (faults) => faults.hangWork() },
  corruptReply: { sentence: 'the next answer of the device is garbled', devices: everyDevice, strike: (faults, device) => faults.corruptReply(device) },
  loseReply: { sentence: 'the next answer of the device is lost', devices: everyDevice, strike: (faults, device) => faults.loseReply(device) },
  late: { sentence: 'the next answer of the device comes five seconds late', devices: everyDevice, strike: (faults, device) => faults.answerLate(device, 5000) },
  hang: { sentence: 'the next call of the device never comes back', devices: everyDevice, strike: (faults, device) => faults.hang(device) },
  unplug: { sentence: 'the cable of the device is pulled and stays out', devices: everyDevice, strike: (faults, device) => faults.unplug(device) },
};
