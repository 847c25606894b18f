/** What one line asks for, or the number of the error that answers it. */
export type Asked =
  | { readonly error: number }
  | { readonly inches: boolean; readonly relative: boolean; readonly machine: boolean; readonly rapid: boolean | undefined; readonly dwell: boolean; readonly axes: Partial<Record<'X' | 'Y' | 'Z', number>>; readonly feed: number | undefined; readonly seconds: number };

/** Numbers of errors in the firmware's documentation, version 1.1 (from memory). */
export const LETTER_EXPECTED = 1;
export const BAD_NUMBER = 2;
const UNSUPPORTED = 20;
const UNDEFINED_FEED = 22;

type G = 'inches' | 'mm' | 'relative' | 'absolute' | 'machine' | 'rapid' | 'linear' | 'dwell';

const KNOWN_G: Readonly<Record<string, G>> = { '0': 'rapid', '1': 'linear', '4': 'dwell', '20': 'inches', '21': 'mm', '53': 'machine', '90': 'absolute', '91': 'relative' };

interface Gathered {
  readonly gs: G[];
  readonly axes: Partial<Record<'X' | 'Y' | 'Z', number>>;
  feed?: number;
  seconds?: number;
}

/** Takes one word in; a number is the error that it makes. */
function take(into: Gathered, letter: string, value: number): number | undefined {
  if (letter === 'X' || letter === 'Y' || letter === 'Z') into.axes[letter] = value;
  else if (letter === 'F') into.feed = value;
  else if (letter === 'P') into.seconds = value;
  else if (letter === 'G') {
    const known = KNOWN_G[String(value)];
    if (known === undefined) return UNSUPPORTED;
    into.gs.push(known);
  } else return UNSUPPORTED;
  return undefined;
}

/** Reads one line of G-code (RS-274), its blanks taken out already. */
export function readWords(line: string): Asked {
  const gathered: Gathered = { gs: [], axes: {} };
  for (let rest = line.toUpperCase(); rest !== ''; ) {
    const letter = rest.charAt(0);
    if (!/[A-Z]/.test(letter)) return { error: LETTER_EXPECTED };
    const number = /^[+-]?(\d+\.?\d*|\.\d+)/.exec(rest.slice(1))?.[0];
    if (number === undefined) return { error: BAD_NUMBER };
    const error = take(gathered, letter, Number(number));
    if (error !== undefined) return { error };
    rest = rest.slice(1 + number.length);
  }
  const { gs, axes, feed, seconds = 0 } = gathered;
  if (feed !== undefined && !(feed > 0)) return { error: UNDEFINED_FEED };
  const rapid = gs.includes('rapid') ? true : gs.includes('linear') ? false : undefined;
  return { inches: gs.includes('inches'), relative: gs.includes('relative'), machine: gs.includes('machine'), dwell: gs.includes('dwell'), rapid, axes, feed, seconds };
}
