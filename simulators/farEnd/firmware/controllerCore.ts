import type { Clock } from '../../../drivers/interfaces/index.ts';
import { MotionPlanner, type Axes } from './planner.ts';
import { PULL_OFF_MM, settingsOf, type FirmwareBuild } from './settings.ts';
import { StatusReporter } from './statusReport.ts';
import { readWords, type Asked } from './words.ts';

export const RECEIVE_BYTES = 128;
const AXIS_LETTERS = ['X', 'Y', 'Z'] as const;
const INCH_MM = 25.4;

// Numbers of errors and alarms in the firmware's documentation, version 1.1 (from memory).
const BAD_STATEMENT = 3;
const HOMING_OFF = 5;
const NOT_IDLE = 8;
const LOCKED = 9;
const TOO_LONG = 11;
const BEYOND_TRAVEL = 15;
const BAD_JOG = 16;
const UNDEFINED_FEED = 22;
const HARD_LIMIT = 1;
const SOFT_LIMIT = 2;
const ABORTED_CYCLE = 3;
const HOMING_RESET = 6;
const HOMING_NO_SWITCH = 9;

type Mode = 'boot' | 'ready' | 'alarm' | 'stuck' | 'homing' | 'dead';

/**
 * Motion firmware, from the documentation of the open-source firmware grbl 1.1 (from memory), written as literal bytes. It knows its line by
 * `receive` and `say` alone. Where its motors truly are it does not know either: after a power cycle it counts from zero, wherever they stand.
 */
export class ControllerCore {
  /** Whether the switches of an axis are never reached. */
  hasLostSwitch = false;
  #mode: Mode = 'dead';
  #isJog = false;
  #hold: { readonly remaining: Axes; readonly feed: number } | undefined;
  #turn = 0;
  #line = '';
  #overlong = false;
  #lines: { readonly text: string; readonly atMs: number }[] = [];
  #isWorking = false;
  #pins = '';
  /** Where the count of the firmware has its zero, in the frame of the switches. */
  #slipMm: Axes = [0, 0, 0];
  readonly #settings: Map<number, string>;
  readonly #planner: MotionPlanner;
  readonly #reporter = new StatusReporter();
  readonly #clock: Clock;
  readonly #build: FirmwareBuild;
  readonly #say: (text: string, atMs: number) => void;

  constructor(clock: Clock, build: FirmwareBuild, startsAtMm: Axes, say: (text: string, atMs: number) => void) {
    this.#clock = clock;
    this.#build = build;
    this.#say = say;
    this.#settings = settingsOf(build);
    this.#planner = new MotionPlanner(build);
    this.#slipMm = startsAtMm;
  }

  /** Where the motors are in the frame of the switches: 0 at the high end, falling to minus the travel. */
  trueMm(atMs: number): Axes {
    const [x, y, z] = this.#planner.at(atMs);
    return [x + this.#slipMm[0], y + this.#slipMm[1], z + this.#slipMm[2]];
  }

  isMoving(atMs: number): boolean {
    return this.#planner.isMoving(atMs);
  }

  /** Power comes: whatever was counted is forgotten, the motors are where they are. */
  async powerOn(): Promise<void> {
    const atMs = this.#clock.now();
    this.#slipMm = this.trueMm(atMs);
    this.#planner.place([0, 0, 0]);
    this.#restart('boot');
    const turn = this.#turn;
    await this.#clock.sleep(this.#build.bootMs);
    if (turn !== this.#turn) return;
    this.#greet(this.#clock.now(), this.#settings.get(22) === '1');
  }

  powerOff(): void {
    this.#planner.halt(this.#clock.now());
    this.#restart('dead');
  }

  /** A switch is touched: with hard limits on, everything stands at once and only a reset helps. */
  touchSwitch(letters: string): void {
    this.#pins = letters;
    if (letters === '' || this.#settings.get(21) !== '1' || this.#mode !== 'ready') return;
    this.#planner.halt(this.#clock.now());
    this.#alarm(HARD_LIMIT, this.#clock.now(), 'stuck');
  }

  receive(bytes: Uint8Array, atMs: number): void {
    if (this.#mode === 'dead' || this.#mode === 'boot') return;
    for (const byte of bytes) this.#byte(byte, atMs);
    if (!this.#isWorking) void this.#work();
  }

  #byte(byte: number, atMs: number): void {
    if (byte === 0x18) this.#softReset(atMs);
    else if (this.#mode === 'stuck') return;
    else if (byte === 0x3f) this.#status(atMs);
    else if (byte === 0x85) this.#cancelJog(atMs);
    else if (byte === 0x21) this.#feedHold(atMs);
    else if (byte === 0x7e) this.#resume(atMs);
    else if (byte < 0x80) this.#text(byte, atMs);
  }

  #text(byte: number, atMs: number): void {
    if (byte === 0x0a || byte === 0x0d) {
      this.#lines.push({ text: this.#overlong ? '\u0000' : this.#line, atMs });
      this.#line = '';
      this.#overlong = false;
      return;
    }
    const held = this.#lines.reduce((sum, { text }) => sum + text.length + 1, this.#line.length);
    if (held >= RECEIVE_BYTES) return;
    if (this.#line.length >= 80) this.#overlong = true;
    else if (byte > 0x20) this.#line += String.fromCharCode(byte);
  }

  async #work(): Promise<void> {
    this.#isWorking = true;
    for (let next = this.#lines.shift(); next; next = this.#lines.shift()) {
      const turn = this.#turn;
      const answer = await this.#execute(next.text, next.atMs).catch(() => undefined);
      if (answer === undefined || turn !== this.#turn || this.#mode === 'stuck') continue;
      this.#say(`${answer.error === 0 ? 'ok' : `error:${answer.error}`}\r\n`, answer.atMs);
    }
    this.#isWorking = false;
  }

  /** Error 0 is `ok`. */
  async #execute(text: string, atMs: number): Promise<{ readonly error: number; readonly atMs: number }> {
    if (text === '\u0000') return { error: TOO_LONG, atMs };
    if (text === '') return { error: 0, atMs };
    if (text.startsWith('$J=')) return this.#jog(text.slice(3), atMs);
    if (text.startsWith('$')) return this.#system(text.toUpperCase(), atMs);
    if (this.#mode === 'alarm' || this.#isJogging(atMs)) return { error: LOCKED, atMs };
    return this.#gCode(readWords(text), atMs);
  }

  async #system(text: string, atMs: number): Promise<{ readonly error: number; readonly atMs: number }> {
    const isBusy = this.#planner.isMoving(atMs);
    if (isBusy) return { error: NOT_IDLE, atMs };
    if (text === '$$') for (const [number, value] of this.#settings) this.#say(`$${number}=${value}\r\n`, atMs);
    else if (text === '$I') this.#say('[VER:1.1h.20190830:]\r\n[OPT:V,15,128]\r\n', atMs);
    else if (text === '$G') this.#say('[GC:G0 G54 G17 G21 G90 G94 M5 M9 T0 F0 S0]\r\n', atMs);
    else if (text === '$X') this.#unlock(atMs);
    else if (text === '$H') return this.#home(atMs);
    else return { error: this.#set(text), atMs };
    return { error: 0, atMs };
  }

  #set(text: string): number {
    const [, number = '', value = ''] = /^\$(\d+)=([\d.]+)$/.exec(text) ?? [];
    if (!this.#settings.has(Number(number)) || value === '') return BAD_STATEMENT;
    this.#settings.set(Number(number), value);
    return 0;
  }

  #unlock(atMs: number): void {
    if (this.#mode !== 'alarm') return;
    this.#say('[MSG:Caution: Unlocked]\r\n', atMs);
    this.#mode = 'ready';
  }

  /** Silent until it is done; not even `?` is answered. */
  async #home(atMs: number): Promise<{ readonly error: number; readonly atMs: number }> {
    if (this.#settings.get(22) !== '1') return { error: HOMING_OFF, atMs };
    this.#mode = 'homing';
    const turn = this.#turn;
    await this.#clock.sleep(this.#build.homingMs);
    const nowMs = this.#clock.now();
    if (turn !== this.#turn) return { error: 0, atMs: nowMs };
    if (this.hasLostSwitch) {
      this.#alarm(HOMING_NO_SWITCH, nowMs, 'alarm');
      throw new Error('no answer follows');
    }
    const { homesLow, travelMm } = this.#build;
    const corner = travelMm.map((travel, axis) => ((homesLow & (1 << axis)) === 0 ? -PULL_OFF_MM : PULL_OFF_MM - travel));
    this.#slipMm = [0, 0, 0];
    this.#planner.place([corner[0] ?? 0, corner[1] ?? 0, corner[2] ?? 0]);
    this.#mode = 'ready';
    return { error: 0, atMs: nowMs };
  }

  async #jog(text: string, atMs: number): Promise<{ readonly error: number; readonly atMs: number }> {
    if (this.#mode !== 'ready' || (this.#planner.isMoving(atMs) && !this.#isJog)) return { error: NOT_IDLE, atMs };
    const asked = readWords(text);
    if ('error' in asked) return { error: asked.error, atMs };
    if (asked.feed === undefined) return { error: UNDEFINED_FEED, atMs };
    if (asked.rapid !== undefined || asked.dwell || Object.keys(asked.axes).length === 0) return { error: BAD_JOG, atMs };
    const target = this.#target(asked, atMs);
    if (this.#isBeyond(target)) return { error: BEYOND_TRAVEL, atMs };
    const freeMs = await this.#waitForPlace(atMs);
    this.#isJog = true;
    this.#planner.add(target, asked.inches ? asked.feed * INCH_MM : asked.feed, freeMs);
    return { error: 0, atMs: freeMs };
  }

  async #gCode(asked: Asked, atMs: number): Promise<{ readonly error: number; readonly atMs: number }> {
    if ('error' in asked) return { error: asked.error, atMs };
    if (asked.dwell) {
      const restMs = this.#planner.isMoving(atMs) ? await this.#waitForRest(atMs) : atMs;
      if (asked.seconds > 0) await this.#clock.sleep(asked.seconds * 1000);
      return { error: 0, atMs: restMs + asked.seconds * 1000 };
    }
    if (Object.keys(asked.axes).length === 0) return { error: 0, atMs };
    const target = this.#target(asked, atMs);
    if (this.#isBeyond(target)) {
      this.#planner.halt(atMs);
      this.#alarm(SOFT_LIMIT, atMs, 'stuck');
      throw new Error('no answer follows');
    }
    const freeMs = await this.#waitForPlace(atMs);
    this.#isJog = false;
    this.#planner.add(target, asked.rapid === true ? Number.POSITIVE_INFINITY : (asked.feed ?? 100), freeMs);
    return { error: 0, atMs: freeMs };
  }

  #target(asked: Exclude<Asked, { readonly error: number }>, atMs: number): Axes {
    const end = this.#planner.end(atMs);
    const unit = asked.inches ? INCH_MM : 1;
    const along = (axis: 0 | 1 | 2): number => {
      const value = asked.axes[AXIS_LETTERS[axis]];
      if (value === undefined) return end[axis];
      if (asked.relative) return end[axis] + value * unit;
      return value * unit + (asked.machine ? 0 : this.#build.workOffsetMm[axis]);
    };
    return [along(0), along(1), along(2)];
  }

  #isBeyond(target: Axes): boolean {
    if (this.#settings.get(20) !== '1') return false;
    return target.some((mm, axis) => mm > 0 || mm < -Number(this.#settings.get(130 + axis)));
  }

  async #waitForPlace(atMs: number): Promise<number> {
    if (this.#planner.free(atMs) > 0) return atMs;
    return this.#until(this.#planner.nextEndMs(atMs));
  }

  async #waitForRest(atMs: number): Promise<number> {
    for (let ms = atMs; ; ms = await this.#until(this.#planner.nextEndMs(ms))) if (!this.#planner.isMoving(ms)) return ms;
  }

  async #until(ms: number): Promise<number> {
    await this.#clock.sleep(Math.max(0, ms - this.#clock.now()));
    return Math.max(ms, this.#clock.now());
  }

  #isJogging(atMs: number): boolean {
    return this.#isJog && this.#planner.isMoving(atMs);
  }

  #stateName(atMs: number): string {
    if (this.#mode === 'alarm') return 'Alarm';
    if (this.#hold) return this.#planner.isMoving(atMs) ? 'Hold:1' : 'Hold:0';
    if (!this.#planner.isMoving(atMs)) return 'Idle';
    return this.#isJog ? 'Jog' : 'Run';
  }

  #status(atMs: number): void {
    if (this.#mode === 'homing') return;
    const { statusMask, workOffsetMm } = this.#build;
    const freeBytes = RECEIVE_BYTES - this.#line.length;
    const facts = { state: this.#stateName(atMs), machineMm: this.#planner.at(atMs), workOffsetMm, mask: statusMask, pins: this.#pins, freeBytes };
    this.#say(`${this.#reporter.line({ ...facts, feedMmPerMin: this.#planner.feed(atMs), freeBlocks: this.#planner.free(atMs) })}\r\n`, atMs);
  }

  #cancelJog(atMs: number): void {
    if (this.#isJogging(atMs)) this.#planner.cancel(atMs);
  }

  /** A held jog is a cancelled one; other motion slows down and can go on. */
  #feedHold(atMs: number): void {
    if (this.#isJogging(atMs)) this.#planner.cancel(atMs);
    else if (this.#planner.isMoving(atMs) && !this.#hold) {
      this.#hold = { remaining: this.#planner.end(atMs), feed: this.#planner.feed(atMs) };
      this.#planner.cancel(atMs);
    }
  }

  #resume(atMs: number): void {
    if (!this.#hold || this.#planner.isMoving(atMs)) return;
    this.#planner.add(this.#hold.remaining, Math.max(60, this.#hold.feed), atMs);
    this.#hold = undefined;
  }

  #softReset(atMs: number): void {
    const wasMoving = this.#planner.isMoving(atMs);
    const wasHoming = this.#mode === 'homing';
    const wasLocked = this.#mode === 'alarm' || this.#mode === 'stuck';
    this.#planner.halt(atMs);
    this.#restart('ready');
    if (wasHoming || wasMoving) this.#say(`ALARM:${wasHoming ? HOMING_RESET : ABORTED_CYCLE}\r\n`, atMs);
    this.#greet(atMs, wasLocked || wasHoming || wasMoving);
  }

  #greet(atMs: number, isLocked: boolean): void {
    this.#mode = isLocked ? 'alarm' : 'ready';
    this.#say("\r\nGrbl 1.1h ['$' for help]\r\n", atMs);
    if (isLocked) this.#say("[MSG:'$H'|'$X' to unlock]\r\n", atMs);
  }

  #alarm(number: number, atMs: number, mode: 'alarm' | 'stuck'): void {
    this.#mode = mode;
    this.#say(`ALARM:${number}\r\n`, atMs);
    if (mode === 'stuck') this.#say('[MSG:Reset to continue]\r\n', atMs);
  }

  #restart(mode: Mode): void {
    this.#turn++;
    this.#mode = mode;
    this.#line = '';
    this.#overlong = false;
    this.#lines = [];
    this.#hold = undefined;
    this.#isJog = false;
    this.#reporter.restart();
  }
}
