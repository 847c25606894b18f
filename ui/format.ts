/** Numbers as a person reads them: unit after a space, true minus, thin space between thousands, no digit that means nothing. */

const THIN_SPACE = '\u2009';
const NO_BREAK = '\u00a0';
const MINUS = '\u2212';

/** A plain number with so many decimals: "12 345.6", "−3". Four figures stay together. */
export function figure(value: number, decimals = 0): string {
  const text = Math.abs(value).toFixed(decimals);
  const [whole = '', part] = text.split('.');
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN_SPACE) : whole;
  const body = part === undefined ? grouped : `${grouped}.${part}`;
  return value < 0 && Number(text) !== 0 ? `${MINUS}${body}` : body;
}

/** A value and its unit, kept on one line. */
export function withUnit(value: number, unit: string, decimals = 0): string {
  return `${figure(value, decimals)}${NO_BREAK}${unit}`;
}

/** Decimals that an uncertainty bears: one significant figure of it, two when it begins with 1. */
export function decimalsFor(error: number): number {
  if (!(error > 0) || !Number.isFinite(error)) return 0;
  const order = Math.floor(Math.log10(error));
  const leading = error / 10 ** order;
  return Math.min(6, Math.max(0, leading < 1.95 ? 1 - order : -order));
}

/** "12.4 ± 0.6", for a table whose head has the unit. */
export function plusMinus(value: number, error: number): string {
  const decimals = decimalsFor(error);
  return `${figure(value, decimals)}${NO_BREAK}±${NO_BREAK}${figure(error, decimals)}`;
}

/** "12.4 ± 0.6 µm"; without an uncertainty, to a whole number. */
export function withError(value: number, error: number, unit: string): string {
  return `${plusMinus(value, error)}${NO_BREAK}${unit}`;
}

/** A length in um, or in mm from 1 mm on: "850 µm", "3.20 mm". */
export function length(um: number): string {
  const size = Math.abs(um);
  if (size >= 999.5) return withUnit(um / 1000, 'mm', size >= 99_950 ? 0 : size >= 9995 ? 1 : 2);
  return withUnit(um, 'µm', size < 10 ? 1 : 0);
}

/** A length that is a round number anyway, for scale bars: "0.5 µm", "20 µm", "2 mm". */
export function roundLength(um: number): string {
  const [value, unit] = um >= 1000 ? [um / 1000, 'mm'] : [um, 'µm'];
  return withUnit(value, unit, value < 1 ? Math.ceil(-Math.log10(value)) : 0);
}

/** A probability: never 1.00, for nothing is. */
export function probability(p: number): string {
  if (p > 0.99) return 'above 0.99';
  return p < 0.01 ? 'below 0.01' : p.toFixed(2);
}

/** A share as per cent with its sign: "+3.2 %", "−12 %". */
export function signedPercent(share: number, decimals = 0): string {
  const text = figure(share * 100, decimals);
  const sign = share > 0 && Number((share * 100).toFixed(decimals)) !== 0 ? '+' : '';
  return `${sign}${text}${NO_BREAK}%`;
}

/** How long: "8 s", "12 min", "3 h 05 min". */
export function duration(seconds: number): string {
  const s = Math.max(0, Math.round(seconds));
  if (s < 90) return `${s}${NO_BREAK}s`;
  const minutes = Math.round(s / 60);
  if (minutes < 90) return `${minutes}${NO_BREAK}min`;
  return `${Math.floor(minutes / 60)}${NO_BREAK}h${NO_BREAK}${String(minutes % 60).padStart(2, '0')}${NO_BREAK}min`;
}

/** Time of day where the browser is: "04:40", or with seconds. */
export function timeOfDay(ms: number, seconds = false): string {
  const at = new Date(ms);
  const parts = [at.getHours(), at.getMinutes(), ...(seconds ? [at.getSeconds()] : [])];
  return parts.map((part) => String(part).padStart(2, '0')).join(':');
}

/** The largest of 1, 2 or 5 times a power of ten that is no more than `most`; for scale bars and axis steps. */
export function roundBelow(most: number): number {
  const power = 10 ** Math.floor(Math.log10(most));
  const step = [5, 2, 1].find((factor) => factor * power <= most * (1 + 1e-9)) ?? 1;
  return step * power;
}
