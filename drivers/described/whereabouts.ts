import { DriverError } from '../interfaces/index.ts';
import type { Dialogue } from './dialogue.ts';
import { match } from './pattern.ts';
import type { MoverPlan, YesNo } from './plan.ts';
import { fromUnits } from './scale.ts';

/** Asks a question that is answered by one of two kinds of line; true for the first. */
export function askYesNo(dialogue: Dialogue, { ask, yes, no }: YesNo): Promise<boolean> {
  return dialogue.ask(ask, (line) => {
    if (yes.some((pattern) => match(pattern, line))) return true;
    return no.some((pattern) => match(pattern, line)) ? false : undefined;
  });
}

/**
 * Where a mover is, and whether that can be believed. The position counts as lost when the line was opened anew or the device has started
 * anew, until the device itself says that it knows it or it is homed. Positions here are in units of the device.
 */
export class Whereabouts {
  #epoch = 0;
  #isLost: boolean;
  /** Where it came to rest by our doing. */
  #rest: readonly number[] | undefined;
  readonly #plan: MoverPlan;
  readonly #dialogue: Dialogue;

  constructor(plan: MoverPlan, dialogue: Dialogue) {
    this.#plan = plan;
    this.#dialogue = dialogue;
    // A device that can say whether it knows its position is asked before it is believed.
    this.#isLost = plan.reference !== undefined;
  }

  /**
   * Opens the line where needed. Resolves with the epoch for which the position is known, which motions are then bound to.
   * Rejects with `positionLost`.
   */
  async established(): Promise<number | undefined> {
    await this.#dialogue.connect();
    if (!this.#plan.canBeLost) return undefined;
    const { epoch } = this.#dialogue;
    if (epoch !== this.#epoch) {
      this.#isLost = true;
      this.#rest = undefined;
    }
    this.#epoch = epoch;
    if (this.#isLost && this.#plan.reference) this.#isLost = !(await askYesNo(this.#dialogue, this.#plan.reference));
    if (this.#isLost) throw this.#lost();
    return epoch;
  }

  /** Where it is now, said once. Rejects with `badReply` for what is no position. */
  async units(epoch?: number): Promise<readonly number[]> {
    const fields = await this.#dialogue.run(this.#plan.position, { ...(epoch === undefined ? {} : { epoch }) });
    return this.#plan.axes.map(({ name }) => {
      const value = fields.get(name);
      if (typeof value !== 'number') throw new DriverError('badReply', { device: this.#plan.device, what: `no ${name}` });
      return value;
    });
  }

  /**
   * Where it rests. When that is not where it was left, it is asked again, so that a garbled figure is not taken for a place; then the
   * device is asked whether it still knows its position. One that cannot be asked and stands at its zero has started anew unnoticed.
   */
  async atRest(): Promise<readonly number[]> {
    const units = await this.units();
    if (!this.#rest || this.isNear(units, this.#rest)) return units;
    const again = await this.units();
    if (this.isNear(again, this.#rest)) return again;
    const { reference, canBeLost } = this.#plan;
    if (!canBeLost) return again;
    this.#isLost = reference ? !(await askYesNo(this.#dialogue, reference)) : again.every((value) => value === 0);
    this.#rest = undefined;
    if (this.#isLost) throw this.#lost();
    return again;
  }

  /** In our units: um, positions, fractions. */
  inOurs(units: readonly number[]): number[] {
    return this.#plan.axes.map(({ scale }, axis) => fromUnits(scale, units[axis] ?? Number.NaN));
  }

  /** Within the tolerance on every axis; half a step of rounding is forgiven. */
  isNear(units: readonly number[], others: readonly number[]): boolean {
    return this.#plan.axes.every(({ scale }, axis) => {
      const halfStep = 0.5 * 10 ** -scale.decimals;
      return Math.abs((units[axis] ?? Number.NaN) - (others[axis] ?? Number.NaN)) <= this.#plan.tolerance * Math.abs(scale.slope) + halfStep;
    });
  }

  /** A motion has failed: a device that can say whether it still knows its place is asked before it is believed again. */
  doubt(): void {
    this.#rest = undefined;
    if (this.#plan.reference) this.#isLost = true;
  }

  /** Where it stands although it should stand elsewhere. One that cannot be asked and stands at its zero has started anew on the way. */
  standsShort(units: readonly number[]): void {
    if (!this.#plan.canBeLost || this.#plan.reference || !units.every((value) => value === 0)) return;
    this.#isLost = true;
    throw this.#lost();
  }

  /** It sets out. */
  leave(): void {
    this.#rest = undefined;
  }

  /** It has come to rest where it should. */
  restAt(units: readonly number[]): void {
    this.#rest = units;
  }

  /** It has been homed, or told where it is, in this epoch: its place is known again. */
  found(epoch: number): void {
    this.#epoch = epoch;
    this.#isLost = this.#plan.reference !== undefined;
    this.#rest = undefined;
  }

  #lost(): DriverError {
    return new DriverError('positionLost', { device: this.#plan.device });
  }
}
