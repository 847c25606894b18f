import type { Clock } from '../../../drivers/interfaces/index.ts';
import { AsciiFarEnd } from './asciiFarEnd.ts';

// The Dunlin Hollow DH-12, a lamp supply that speaks SCPI. Maker and model are inventions of this repository; what it says is not:
// *IDN?, *CLS, *RST, *OPC? and the four fields of *IDN? are IEEE 488.2-1992 (10.14, 10.3, 10.32, 10.19); SYSTem:ERRor?, the queue behind it
// and the numbers and texts of errors are SCPI-99 (volume 2, 21.8). Section numbers and texts from memory.

const MOST_AMPERE = 0.7;
const QUEUE_LENGTH = 8;

type Heading = readonly [pattern: RegExp, act: (argument: string) => string | undefined];

/** Short and long form of each word, as SCPI has it: `SOUR` or `SOURCE`, in either case. */
function heading(...words: readonly (readonly [short: string, rest: string])[]): string {
  return words.map(([short, rest]) => `${short}(?:${rest})?`).join(':');
}

const CURRENT = heading(['SOUR', 'CE'], ['CURR', 'ENT']);
const OUTPUT = heading(['OUTP', 'UT']);

/** A fake of it, switched off. */
export class DunlinDh12 extends AsciiFarEnd {
  isOn = false;
  ampere = 0;
  readonly #errors: string[] = [];
  readonly #headings: readonly Heading[] = [
    [/^\*IDN\?$/i, () => 'Dunlin Hollow,DH-12,0042,1.07'],
    [/^\*OPC\?$/i, () => '1'],
    [/^\*CLS$/i, () => this.#clear()],
    [/^\*RST$/i, () => this.#reset()],
    [new RegExp(`^${heading(['SYST', 'EM'], ['ERR', 'OR'])}(?::NEXT)?\\?$`, 'i'), () => this.#errors.shift() ?? '0,"No error"'],
    [new RegExp(`^${CURRENT} (\\S+)$`, 'i'), (argument) => this.#setCurrent(argument)],
    [new RegExp(`^${CURRENT}\\?$`, 'i'), () => exponential(this.ampere)],
    [new RegExp(`^${heading(['MEAS', 'URE'], ['CURR', 'ENT'])}\\?$`, 'i'), () => exponential(this.isOn ? this.ampere : 0)],
    [new RegExp(`^${OUTPUT} (\\S+)$`, 'i'), (argument) => this.#switch(argument)],
    [new RegExp(`^${OUTPUT}\\?$`, 'i'), () => (this.isOn ? '1' : '0')],
  ];

  constructor(clock: Clock) {
    super(clock, '\n', '\n');
  }

  protected forget(): void {
    this.#reset();
    this.#clear();
  }

  /** A refused command is not answered: the error waits until it is asked for. */
  protected refusal(): readonly string[] {
    this.#fail('-200,"Execution error"');
    return [];
  }

  protected answer(command: string): readonly string[] {
    for (const [pattern, act] of this.#headings) {
      const found = pattern.exec(command);
      if (!found) continue;
      const said = act(found[1] ?? '');
      return said === undefined ? [] : [said];
    }
    this.#fail('-113,"Undefined header"');
    return [];
  }

  #setCurrent(argument: string): undefined {
    const ampere = Number(argument);
    if (argument === '' || Number.isNaN(ampere)) this.#fail('-104,"Data type error"');
    else if (ampere < 0 || ampere > MOST_AMPERE) this.#fail('-222,"Data out of range"');
    else this.ampere = ampere;
  }

  #switch(argument: string): undefined {
    if (/^(ON|1)$/i.test(argument)) this.isOn = true;
    else if (/^(OFF|0)$/i.test(argument)) this.isOn = false;
    else this.#fail('-224,"Illegal parameter value"');
  }

  #clear(): undefined {
    this.#errors.length = 0;
  }

  #reset(): undefined {
    this.isOn = false;
    this.ampere = 0;
  }

  /** The last place of a full queue says that errors were lost. */
  #fail(error: string): void {
    if (this.#errors.length < QUEUE_LENGTH) this.#errors.push(error);
    else this.#errors[QUEUE_LENGTH - 1] = '-350,"Queue overflow"';
  }
}

/** NR3 of IEEE 488.2 (8.7.4): `+3.50000E-01`. */
function exponential(value: number): string {
  const [mantissa = '0', power = '+0'] = value.toExponential(5).split('e');
  return `+${mantissa}E${power.charAt(0)}${power.slice(1).padStart(2, '0')}`;
}
