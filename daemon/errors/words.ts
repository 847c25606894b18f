/** Figures as Nightjar writes them: a true minus, a thin space between thousands, a space before the unit. */
const THIN_SPACE = '\u2009';
const MINUS = '\u2212';

/** A number with at most `digits` decimals: `12 345.6`, `−3`. */
export function figure(value: number, digits = 1): string {
  if (!Number.isFinite(value)) return 'not a number';
  const [whole = '0', part] = Math.abs(value).toFixed(digits).split('.');
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN_SPACE) : whole;
  const decimals = part?.replace(/0+$/, '') ?? '';
  const text = decimals === '' ? grouped : `${grouped}.${decimals}`;
  return value < 0 && text !== '0' ? MINUS + text : text;
}

/** A length with the unit that suits it: `41 µm`, `4.2 mm`. */
export function lengthUm(um: number): string {
  return Math.abs(um) >= 1000 ? `${figure(um / 1000, 2)} mm` : `${figure(um)} µm`;
}

/** A size on disk, decimal units: `38 GB`. */
export function bytes(count: number): string {
  const units = ['bytes', 'kB', 'MB', 'GB', 'TB'] as const;
  const power = Math.min(units.length - 1, Math.floor(Math.log10(Math.max(1, Math.abs(count))) / 3));
  return power === 0 ? counted(count, 'byte') : `${figure(count / 1000 ** power)} ${units[power] ?? 'bytes'}`;
}

/** `1 tile`, `530 tiles`. */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${figure(count, 0)} ${count === 1 ? one : many}`;
}

const UNITS: readonly (readonly [suffix: RegExp, unit: string])[] = [
  [/UmPerS2$/, 'µm/s²'],
  [/UmPerS$/, 'µm/s'],
  [/Um2$/, 'µm²'],
  [/Um$/, 'µm'],
  [/Nm$/, 'nm'],
  [/Mm$/, 'mm'],
  [/Ms$/, 'ms'],
  [/Px$/, 'px'],
  [/Db$/, 'dB'],
  [/Deg$/, 'degrees'],
  [/(?<=[a-z])S$/, 's'],
];

function particular(key: string, value: number | string): string {
  const unit = UNITS.find(([suffix]) => suffix.test(key));
  const name = (unit ? key.replace(unit[0], '') : key).replace(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`);
  const text = typeof value === 'number' ? figure(value, 3) : value;
  return unit ? `${name} ${text} ${unit[1]}` : `${name} ${text}`;
}

/**
 * What belongs to a driver's error, for the end of a clause: ` (axis x, asked 80 000 µm, limit 75 000 µm)`; nothing when there is
 * nothing. Units are read off the names, in which they stand last.
 */
export function particulars(details: Readonly<Record<string, number | string>>): string {
  const all = Object.entries(details).map(([key, value]) => particular(key, value));
  return all.length === 0 ? '' : ` (${all.join(', ')})`;
}

/** Ends a clause that came from elsewhere with one full stop. */
export function stopped(clause: string): string {
  return `${clause.trim().replace(/[.!\s]+$/, '')}.`;
}

/** Control characters but the line feed, and marks that turn the direction of what follows them. */
const UNFIT = /[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g;

/** A text that may come from anywhere, as it can be shown: what would make a terminal do things stands as its code, `\u001b`. */
export function fitToShow(text: string): string {
  return text.replace(UNFIT, (odd) => (odd === '\t' ? ' ' : `\\u${odd.charCodeAt(0).toString(16).padStart(4, '0')}`));
}

/** The beginning of a text that is longer than a person would read. */
export function brief(text: string, most: number): string {
  return text.length > most ? `${text.slice(0, most - 3)}...` : text;
}
