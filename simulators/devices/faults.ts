import { DriverError } from '../../drivers/interfaces/index.ts';

export type DeviceName = 'stage' | 'focus' | 'camera' | 'turret' | 'lamp' | 'fieldStop';

/** Everything that can be made to go wrong, by name. */
export type FaultName =
  | 'stallX'
  | 'stallY'
  | 'stallZ'
  | 'dropFrame'
  | 'corruptFrame'
  | 'blackFrame'
  | 'saturatedFrame'
  | 'loseLamp'
  | `corruptReply:${DeviceName}`
  | `unplug:${DeviceName}`;

/** The switches by which tests and rehearsals make a simulated microscope fail. Each strikes a number of times, or until switched off. */
export class Faults {
  readonly #left = new Map<FaultName, number>();

  /** Lets the fault strike this many times from now on; lasting when left out. */
  switchOn(name: FaultName, times = Number.POSITIVE_INFINITY): void {
    this.#left.set(name, times);
  }

  switchOff(name: FaultName): void {
    this.#left.delete(name);
  }

  isOn(name: FaultName): boolean {
    return (this.#left.get(name) ?? 0) > 0;
  }

  /** True when the fault strikes now; uses up one time. */
  strikes(name: FaultName): boolean {
    const left = this.#left.get(name) ?? 0;
    if (left <= 0) return false;
    this.#left.set(name, left - 1);
    return true;
  }

  /** The next moves along this axis stop half-way with `stalled`. */
  stallAxis(axis: 'x' | 'y' | 'z', times = 1): void {
    this.switchOn(axis === 'x' ? 'stallX' : axis === 'y' ? 'stallY' : 'stallZ', times);
  }

  /** The next frames never come: `noFrame` after the camera's patience. */
  dropFrame(times = 1): void {
    this.switchOn('dropFrame', times);
  }

  /** The next frames arrive torn: `badFrame`. */
  corruptFrame(times = 1): void {
    this.switchOn('corruptFrame', times);
  }

  /** The next frames see no light. */
  blackFrame(times = 1): void {
    this.switchOn('blackFrame', times);
  }

  /** The next frames are full everywhere. */
  saturate(times = 1): void {
    this.switchOn('saturatedFrame', times);
  }

  /** The next answers of this device are garbled: `badReply`. */
  corruptReply(device: DeviceName, times = 1): void {
    this.switchOn(`corruptReply:${device}`, times);
  }

  /** The lamp is dead from now on, though it still answers. */
  loseLamp(): void {
    this.switchOn('loseLamp');
  }

  restoreLamp(): void {
    this.switchOff('loseLamp');
  }

  /** Every call to this device rejects with `disconnected` from now on. A stage or focus drive under way stops. */
  unplug(device: DeviceName): void {
    this.switchOn(`unplug:${device}`);
  }

  /** It answers again; a stage has lost its position and must be homed. */
  plugIn(device: DeviceName): void {
    this.switchOff(`unplug:${device}`);
  }

  /** Throws what the state of a device's line makes of a call. */
  checkLine(device: DeviceName): void {
    if (this.isOn(`unplug:${device}`)) throw new DriverError('disconnected', { device });
    if (this.strikes(`corruptReply:${device}`)) throw new DriverError('badReply', { device });
  }
}
