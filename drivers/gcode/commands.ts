/** Commands of the open-source firmware grbl 1.1, from its documentation (from memory). */

/** Single bytes that act at once, wherever they stand; no line end, no `ok`. */
export const REAL_TIME = { status: 0x3f, hold: 0x21, resume: 0x7e, reset: 0x18, cancelJog: 0x85 } as const;

export const ASK_IDENTITY = '$I';
export const ASK_SETTINGS = '$$';
export const HOME = '$H';
export const UNLOCK = '$X';

/** No controller of this firmware goes slower than 1 mm/min. */
export const SLOWEST_UM_PER_S = 1000 / 60;

/** What a jog can be asked to: machine mm of some axes, with their places in lists of positions. */
export type JogTarget = readonly { readonly letter: string; readonly index: number; readonly mm: number }[];

/** A number without exponent, without needless zeros (each is 87 us on the line), and without a sign on zero. */
function decimal(value: number, digits: number): string {
  const text = value.toFixed(digits).replace(/\.?0+$/, '');
  return text === '-0' ? '0' : text;
}

/**
 * One jog, straight to a place in machine coordinates: mm (G21), absolute (G90), machine frame (G53). `$J=` is checked against the controller's own
 * soft limits without an alarm, and ends cleanly on a cancel. The feed is cut, not rounded: never faster than asked.
 */
export function encodeJog(target: JogTarget, speedUmPerS: number): string {
  const axes = target.map(({ letter, mm }) => `${letter}${decimal(mm, 5)}`).join('');
  const feedMmPerMin = Math.floor(speedUmPerS * 0.06 * 100) / 100;
  return `$J=G21G90G53${axes}F${decimal(feedMmPerMin, 2)}`;
}
