import type { Clock } from '../../../drivers/interfaces/index.ts';
import { AsciiFarEnd } from './asciiFarEnd.ts';
import { Motor } from './motor.ts';

// The Quillfen QF-200, a stage controller with focus drive. Maker, model and protocol are inventions of this repository.
//
// Commands end in CR, answers in CR LF. Numbers are whole steps: 10 in one um on x and y, 20 on z.
//   ?ID        QF200 v1.4 #0117
//   ?P  ?Z     P 100000 60000      Z 40000
//   MA x y     OK                  sets out for an absolute place
//   MR x y     OK                  sets out by so many steps
//   MZ z       OK
//   SP n  SZ n OK                  steps per second of each axis; of z
//   ?S  ?T     S I, S M, S A n     stage idle, moving, in alarm;  T I, T M: focus drive
//   HX  HZ     OK                  halt
//   HM         OK                  homes x and y
//   ?R  ?U     R 1, R 0, U 1, U 0  it knows, or does not know, where x and y, where z is
//   HU         OK                  homes z, which goes up to its end
// Refusals: E1 not understood, E2 out of range, E5 not referenced. After power-up: *BOOT QF200 v1.4

const X_STEPS = 200_000;
const Y_STEPS = 120_000;
const Z_STEPS = 40_000;
const HOMING_SPEED = 300_000;

/** A fake of it, with x and y halfway, z at its top, referenced. */
export class QuillfenQf200 extends AsciiFarEnd {
  isReferenced = true;
  isHeightKnown = true;
  alarm = 0;
  readonly x: Motor;
  readonly y: Motor;
  readonly z: Motor;
  #homesUntilMs = 0;

  constructor(clock: Clock) {
    super(clock, '\r', '\r\n');
    this.x = new Motor(clock, X_STEPS / 2, 200_000);
    this.y = new Motor(clock, Y_STEPS / 2, 200_000);
    this.z = new Motor(clock, Z_STEPS, 40_000);
  }

  /** The power goes and comes back: it takes where it stands for zero, and says so on its line. */
  restart(): void {
    this.powerCycle('*BOOT QF200 v1.4');
  }

  protected forget(): void {
    for (const motor of [this.x, this.y, this.z]) motor.put(0);
    this.isReferenced = false;
    this.isHeightKnown = false;
    this.alarm = 0;
  }

  protected refusal(): readonly string[] {
    return ['E2'];
  }

  protected answer(command: string): readonly string[] {
    const [word = '', ...rest] = command.split(' ');
    const numbers = rest.map(Number);
    if (rest.some((text) => !/^-?\d+$/.test(text))) return ['E1'];
    if (word.startsWith('?') && rest.length === 0) return this.#question(word);
    return [this.#order(word, numbers)];
  }

  #question(word: string): readonly string[] {
    switch (word) {
      case '?ID':
        return ['QF200 v1.4 #0117'];
      case '?P':
        return [`P ${this.x.at} ${this.y.at}`];
      case '?Z':
        return [`Z ${this.z.at}`];
      case '?S':
        return [this.alarm > 0 ? `S A ${this.alarm}` : this.#isStageMoving() ? 'S M' : 'S I'];
      case '?T':
        return [this.z.isMoving ? 'T M' : 'T I'];
      case '?R':
        return [this.isReferenced && !this.#isHoming() ? 'R 1' : 'R 0'];
      case '?U':
        return [this.isHeightKnown ? 'U 1' : 'U 0'];
      default:
        return ['E1'];
    }
  }

  #order(word: string, numbers: readonly number[]): string {
    const [first, second] = numbers;
    switch (`${word}/${numbers.length}`) {
      case 'MA/2':
        return this.#goTo(first ?? 0, second ?? 0);
      case 'MR/2':
        return this.#goTo(this.x.at + (first ?? 0), this.y.at + (second ?? 0));
      case 'MZ/1':
        return this.#focusTo(first ?? 0);
      case 'SP/1':
        return this.#setSpeed([this.x, this.y], first ?? 0, 200_000);
      case 'SZ/1':
        return this.#setSpeed([this.z], first ?? 0, 40_000);
      case 'HX/0':
        return this.#halt([this.x, this.y]);
      case 'HZ/0':
        return this.#halt([this.z]);
      case 'HM/0':
        return this.#home();
      case 'HU/0':
        return this.#homeUp();
      default:
        return 'E1';
    }
  }

  #goTo(x: number, y: number): string {
    if (!this.isReferenced) return 'E5';
    if (x < 0 || x > X_STEPS || y < 0 || y > Y_STEPS) return 'E2';
    this.x.goTo(x);
    this.y.goTo(y);
    return 'OK';
  }

  #focusTo(z: number): string {
    if (!this.isHeightKnown) return 'E5';
    if (z < 0 || z > Z_STEPS) return 'E2';
    this.z.goTo(z);
    return 'OK';
  }

  #setSpeed(motors: readonly Motor[], speed: number, most: number): string {
    if (speed < 1 || speed > most) return 'E2';
    for (const motor of motors) motor.speed = speed;
    return 'OK';
  }

  #halt(motors: readonly Motor[]): string {
    for (const motor of motors) motor.halt();
    this.#homesUntilMs = 0;
    return 'OK';
  }

  #home(): string {
    this.alarm = 0;
    this.isReferenced = true;
    this.x.goTo(0, HOMING_SPEED);
    this.y.goTo(0, HOMING_SPEED);
    this.#homesUntilMs = this.clock.now() + 300;
    return 'OK';
  }

  #homeUp(): string {
    this.isHeightKnown = true;
    this.z.goTo(Z_STEPS, HOMING_SPEED);
    return 'OK';
  }

  #isHoming(): boolean {
    return this.clock.now() < this.#homesUntilMs;
  }

  #isStageMoving(): boolean {
    return this.x.isMoving || this.y.isMoving || this.#isHoming();
  }
}
