import { mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Clock } from '../../../drivers/interfaces/index.ts';
import { randomStream, type Random } from '../../random.ts';
import { openPty, type FarEndOfLine } from '../pty.ts';
import { ControllerCore } from './controllerCore.ts';
import type { Axes } from './planner.ts';
import { QUICK_BUILD, type FirmwareBuild } from './settings.ts';
import { SerialLane } from './uart.ts';

export interface FakeFirmwareOptions {
  readonly clock: Clock;
  readonly build?: Partial<FirmwareBuild>;
  /** Where the motors stand at first, in the frame of the switches, mm. */
  readonly startsAtMm?: Axes;
  readonly seed?: number;
}

/** A controller at the far end of a pseudo-terminal, with faults to switch on. Its stable name is a symbolic link in a folder of its own. */
export class FakeFirmware {
  readonly stableName: string;
  readonly #folder: string;
  #line: FarEndOfLine | undefined;
  #isMute = false;
  #isMutedFor = 0;
  #garbledShare = 0;
  #garbledInShare = 0;
  #isPowered = true;
  #babbles = false;
  readonly #random: Random;
  readonly #clock: Clock;
  readonly #core: ControllerCore;
  readonly #inward: SerialLane;
  readonly #outward: SerialLane;

  constructor({ clock, build, startsAtMm = [-7, -6, -2], seed = 1 }: FakeFirmwareOptions) {
    const whole = { ...QUICK_BUILD, ...build };
    this.#clock = clock;
    this.#random = randomStream(seed, 'firmware', 'garbling');
    this.#folder = mkdtempSync(join(tmpdir(), 'nightjar-firmware-'));
    this.stableName = join(this.#folder, 'usb-Invented_Motion_Board_0001-if00');
    this.#outward = new SerialLane(clock, whole.baudRate, (bytes) => this.#line?.write(bytes));
    this.#core = new ControllerCore(clock, whole, startsAtMm, (text, atMs) => this.#say(text, atMs));
    this.#inward = new SerialLane(clock, whole.baudRate, (bytes, atMs) => this.#core.receive(bytes, atMs));
    this.plugIn();
    void this.#core.powerOn();
  }

  /** Where the motors truly are, mm in the frame of the switches: what no driver can ask. */
  trueMm(): Axes {
    return this.#core.trueMm(this.#clock.now());
  }

  isMoving(): boolean {
    return this.#core.isMoving(this.#clock.now());
  }

  /** This share of the lines that it sends have a byte changed. */
  garble(share: number): void {
    this.#garbledShare = share;
  }

  /** This share of what it hears has a byte changed. */
  garbleIncoming(share: number): void {
    this.#garbledInShare = share;
  }

  /** It hears and acts, but nothing that it says arrives. */
  mute(isMute = true): void {
    this.#isMute = isMute;
  }

  /** Mute for a while, ms. */
  async muteFor(ms: number): Promise<void> {
    this.#isMutedFor++;
    await this.#clock.sleep(ms);
    this.#isMutedFor--;
  }

  /** Everything that it sends arrives as bytes that are no text, as at a wrong baud rate. */
  babble(babbles = true): void {
    this.#babbles = babbles;
  }

  powerCycle(): void {
    this.#core.powerOff();
    void this.#core.powerOn();
  }

  /** The plug is pulled; with `keepsPower` the board has a supply of its own. */
  unplug({ keepsPower }: { readonly keepsPower: boolean }): void {
    this.#line?.close();
    this.#line = undefined;
    this.#inward.clear();
    this.#outward.clear();
    rmSync(this.stableName, { force: true });
    this.#isPowered = keepsPower;
    if (!keepsPower) this.#core.powerOff();
  }

  /** Back again, under another device name and the same stable one. */
  plugIn(): void {
    if (this.#line) return;
    const line = openPty();
    line.onBytes((bytes) => this.#hear(bytes));
    symlinkSync(line.path, this.stableName);
    this.#line = line;
    if (!this.#isPowered) void this.#core.powerOn();
    this.#isPowered = true;
  }

  /** Somebody presses the button that holds all motion. */
  pressHold(): void {
    this.#core.receive(Uint8Array.of(0x21), this.#clock.now());
  }

  touchSwitch(letters: string): void {
    this.#core.touchSwitch(letters);
  }

  /** Homing finds no switch from now on. */
  loseSwitch(isLost = true): void {
    this.#core.hasLostSwitch = isLost;
  }

  /** Ends it and takes its name away. */
  close(): void {
    this.unplug({ keepsPower: false });
    rmSync(this.#folder, { recursive: true, force: true });
  }

  #say(text: string, atMs: number): void {
    if (this.#isMute || this.#isMutedFor > 0) return;
    for (const line of text.match(/[^\n]*\n/g) ?? []) this.#outward.send(this.#asItArrives(Buffer.from(line, 'latin1')), atMs);
  }

  #asItArrives(bytes: Uint8Array): Uint8Array {
    if (this.#babbles) return bytes.map(() => 0x80 + this.#random.below(0x80));
    return this.#garbledShare > 0 && this.#random.next() < this.#garbledShare ? this.#withOneBitChanged(bytes) : bytes;
  }

  #hear(bytes: Uint8Array): void {
    if (!this.#isPowered) return;
    const heard = this.#garbledInShare > 0 && this.#random.next() < this.#garbledInShare ? this.#withOneBitChanged(bytes) : bytes;
    this.#inward.send(heard, this.#clock.now());
  }

  #withOneBitChanged(bytes: Uint8Array): Uint8Array {
    const changed = Uint8Array.from(bytes);
    const place = this.#random.below(bytes.length);
    changed[place] = (changed[place] ?? 0) ^ (1 << this.#random.below(8));
    return changed;
  }
}
