import { DriverError, type Clock } from '../../drivers/interfaces/index.ts';

export type DeviceName = 'stage' | 'focus' | 'camera' | 'turret' | 'lamp' | 'fieldStop';

/** Everything that can be made to go wrong, by name. */
export type FaultName =
  | 'stallX'
  | 'stallY'
  | 'stallZ'
  | 'hitLimit'
  | 'dropFrame'
  | 'corruptFrame'
  | 'blackFrame'
  | 'saturatedFrame'
  | 'repeatFrame'
  | 'tearFrame'
  | 'loseLamp'
  | 'fadeLamp'
  | 'jumpFocus'
  | 'driftFocus'
  | 'jumpClock'
  | 'slowWork'
  | 'hangWork'
  | `corruptReply:${DeviceName}`
  | `loseReply:${DeviceName}`
  | `late:${DeviceName}`
  | `hang:${DeviceName}`
  | `unplug:${DeviceName}`;

const MINUTE_MS = 60_000;

interface Switch {
  left: number;
  readonly sinceMs: number;
  readonly amount: number;
}

/** The switches by which tests and rehearsals make a simulated microscope fail. Each strikes a number of times, or until switched off. */
export class Faults {
  readonly #clock: Pick<Clock, 'now'>;
  readonly #on = new Map<FaultName, Switch>();
  readonly #struck = new Map<FaultName, number>();

  /** @param clock for what grows with time since it was switched on */
  constructor(clock: Pick<Clock, 'now'>) {
    this.#clock = clock;
  }

  /** Lets the fault strike this many times from now on; lasting when left out. The amount is in the unit that the fault's own method names. */
  switchOn(name: FaultName, times = Number.POSITIVE_INFINITY, amount = 0): void {
    this.#on.set(name, { left: times, sinceMs: this.#clock.now(), amount });
  }

  switchOff(name: FaultName): void {
    this.#on.delete(name);
  }

  isOn(name: FaultName): boolean {
    return (this.#on.get(name)?.left ?? 0) > 0;
  }

  /** True when the fault strikes now; uses up one time. */
  strikes(name: FaultName): boolean {
    const fault = this.#on.get(name);
    if (!fault || fault.left <= 0) return false;
    fault.left--;
    this.#count(name);
    return true;
  }

  /** True while it is on; counts as a strike each time that something feels it. */
  isFelt(name: FaultName): boolean {
    const isOn = this.isOn(name);
    if (isOn) this.#count(name);
    return isOn;
  }

  /** How often each has struck. */
  get struck(): ReadonlyMap<FaultName, number> {
    return this.#struck;
  }

  /** How much of it there is; 0 while it was never switched on. */
  amount(name: FaultName): number {
    return this.#on.get(name)?.amount ?? 0;
  }

  /** How long ago it was switched on. */
  ageMs(name: FaultName): number {
    const { sinceMs } = this.#on.get(name) ?? {};
    return sinceMs === undefined ? 0 : this.#clock.now() - sinceMs;
  }

  /** The next moves along this axis stop half-way with `stalled`. */
  stallAxis(axis: 'x' | 'y' | 'z', times = 1): void {
    this.switchOn(axis === 'x' ? 'stallX' : axis === 'y' ? 'stallY' : 'stallZ', times);
  }

  /** The stage's next moves trip a limit switch half-way: `alarm`, and so is all that is asked of it, until it is homed. */
  hitLimit(times = 1): void {
    this.switchOn('hitLimit', times);
  }

  /** The next frames never come: `noFrame` after the camera's patience. */
  dropFrame(times = 1): void {
    this.switchOn('dropFrame', times);
  }

  /** The next frames arrive torn, and the camera says so: `badFrame`. */
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

  /** The next frames are those before them once more, byte by byte, under a time of their own. */
  repeatFrame(times = 1): void {
    this.switchOn('repeatFrame', times);
  }

  /** The lower rows of the next frames are still those of the frame before, and nothing says so. */
  tearFrame(times = 1): void {
    this.switchOn('tearFrame', times);
  }

  /** The next answers of this device are garbled: `badReply`. */
  corruptReply(device: DeviceName, times = 1): void {
    this.switchOn(`corruptReply:${device}`, times);
  }

  /** The device does what it is told next, but its answers are lost: `timeout` after the driver's patience. */
  loseReply(device: DeviceName, times = 1): void {
    this.switchOn(`loseReply:${device}`, times);
  }

  /** The device does what it is told next, but its answers take so much longer. */
  answerLate(device: DeviceName, byMs: number, times = 1): void {
    this.switchOn(`late:${device}`, times, byMs);
  }

  /** The next calls never settle, as with a mistake in a driver; a signal that is aborted is not heeded. What was asked for is done. */
  hang(device: DeviceName, times = 1): void {
    this.switchOn(`hang:${device}`, times);
  }

  /** The lamp is dead from now on, though it still answers. */
  loseLamp(): void {
    this.switchOn('loseLamp');
  }

  /** The lamp's light goes down evenly from now on and is gone after this time, though it still answers. */
  fadeLamp(overMs: number): void {
    this.switchOn('fadeLamp', Number.POSITIVE_INFINITY, overMs);
  }

  restoreLamp(): void {
    this.switchOff('loseLamp');
    this.switchOff('fadeLamp');
  }

  /** The sample is higher by this much from now on (a clamp gives way); it adds up. */
  jumpFocus(byUm: number): void {
    this.switchOn('jumpFocus', Number.POSITIVE_INFINITY, this.amount('jumpFocus') + byUm);
  }

  /** The sample rises by this much in every minute from now on; 0 lets it stay where it has got to. */
  driftFocus(umPerMin: number): void {
    this.switchOn('jumpFocus', Number.POSITIVE_INFINITY, this.risenUm());
    this.switchOn('driftFocus', Number.POSITIVE_INFINITY, umPerMin);
  }

  /** How much higher the sample lies than it did before these faults. */
  risenUm(): number {
    return this.amount('jumpFocus') + (this.amount('driftFocus') * this.ageMs('driftFocus')) / MINUTE_MS;
  }

  /** The computer's clock is set forwards by this much, backwards when negative; it adds up. What waits is not woken earlier or later. */
  jumpClock(byMs: number): void {
    this.switchOn('jumpClock', Number.POSITIVE_INFINITY, this.amount('jumpClock') + byMs);
  }

  /** The next pieces of the computer's own work (a frame to be measured and written, a ladder to be fitted) take so much longer: a slow disk, a busy computer. */
  slowWork(byMs: number, times = 1): void {
    this.switchOn('slowWork', times, byMs);
  }

  /** The next pieces of the computer's own work never end: a worker or a disk that hangs. */
  hangWork(times = 1): void {
    this.switchOn('hangWork', times);
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
    if (this.isFelt(`unplug:${device}`)) throw new DriverError('disconnected', { device });
    if (this.strikes(`corruptReply:${device}`)) throw new DriverError('badReply', { device });
  }

  #count(name: FaultName): void {
    this.#struck.set(name, (this.#struck.get(name) ?? 0) + 1);
  }
}
