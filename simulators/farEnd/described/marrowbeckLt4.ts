import type { Clock } from '../../../drivers/interfaces/index.ts';
import { AsciiFarEnd } from './asciiFarEnd.ts';
import { Motor } from './motor.ts';

// The Marrowbeck LT-4, a box with a lamp, a turret, a filter wheel, a shutter and a field stop. Maker, model and protocol are inventions of
// this repository.
//
// Both ways lines end in LF, and each command is repeated before it is answered.
//   ID       LT-4/2.0
//   L=n L?   L:n               lamp, 0 to 1000
//   T=n T?   T:n, T:~          turret, 1 to 5; ~ while it turns
//   W=n W?   W:n, W:~          filter wheel, 1 to 6
//   S=n S?   S:n               shutter, 1 open, 0 shut
//   F=n F?   F:n, F:~          field stop, opening in percent with one decimal
//   ESC      HALT              a single byte, not repeated: everything stops
// Refusals: ERR 10 what, ERR 22 range. Now and then it says TEMP 31.5, and LAMP HOT when its lamp is.

interface Place {
  readonly least: number;
  readonly most: number;
  readonly decimals: number;
}

const PLACES: Readonly<Record<string, Place>> = {
  L: { least: 0, most: 1000, decimals: 0 },
  T: { least: 1, most: 5, decimals: 0 },
  W: { least: 1, most: 6, decimals: 0 },
  S: { least: 0, most: 1, decimals: 0 },
  F: { least: 0, most: 100, decimals: 1 },
};

const ESCAPE = String.fromCharCode(0x1b);

/** A fake of it: lamp off, first turret place, first filter, shutter shut, field stop open. */
export class MarrowbeckLt4 extends AsciiFarEnd {
  readonly motors: Readonly<Record<string, Motor>>;

  constructor(clock: Clock) {
    super(clock, '\n', '\n');
    this.motors = { L: new Motor(clock, 0, 1e6), T: new Motor(clock, 1, 20), W: new Motor(clock, 1, 20), S: new Motor(clock, 0, 1e6), F: new Motor(clock, 100, 1000) };
  }

  protected forget(): void {
    this.motors.L?.put(0);
    this.motors.S?.put(0);
  }

  protected refusal(command: string): readonly string[] {
    return [command, 'ERR 22 range'];
  }

  protected override bare(character: string): readonly string[] | undefined {
    if (character !== ESCAPE) return undefined;
    for (const motor of Object.values(this.motors)) motor.halt();
    return ['HALT'];
  }

  protected answer(command: string): readonly string[] {
    if (command === 'ID') return [command, 'LT-4/2.0'];
    const found = /^([LTWSF])(?:\?|=(\d{1,4}(?:\.\d)?))$/.exec(command);
    const name = found?.[1] ?? '';
    const motor = this.motors[name];
    const place = PLACES[name];
    if (!found || !motor || !place) return [command, 'ERR 10 what'];
    const asked = found[2] === undefined ? undefined : Number(found[2]);
    if (asked === undefined) return [command, this.#says(name, motor, place)];
    if (asked < place.least || asked > place.most) return [command, 'ERR 22 range'];
    const isQuick = 'LS'.includes(name);
    if (isQuick) motor.put(asked);
    else motor.goTo(asked);
    return [command, isQuick ? `${name}:${asked}` : `${name}:~`];
  }

  #says(name: string, motor: Motor, { decimals }: Place): string {
    return `${name}:${motor.isMoving ? '~' : motor.at.toFixed(decimals)}`;
  }
}
