/** A complex number. For preparation and rare calls; the inner loops of a ladder work on plain numbers. */
export interface Complex {
  readonly re: number;
  readonly im: number;
}

export const complex = (re: number, im = 0): Complex => ({ re, im });
export const add = (a: Complex, b: Complex): Complex => ({ re: a.re + b.re, im: a.im + b.im });
export const subtract = (a: Complex, b: Complex): Complex => ({ re: a.re - b.re, im: a.im - b.im });
export const multiply = (a: Complex, b: Complex): Complex => ({ re: a.re * b.re - a.im * b.im, im: a.re * b.im + a.im * b.re });
export const scale = (a: Complex, factor: number): Complex => ({ re: a.re * factor, im: a.im * factor });
export const squaredModulus = (a: Complex): number => a.re * a.re + a.im * a.im;

export function divide(a: Complex, b: Complex): Complex {
  const over = squaredModulus(b);
  return { re: (a.re * b.re + a.im * b.im) / over, im: (a.im * b.re - a.re * b.im) / over };
}

/** The square root whose imaginary part has the sign of the argument's, so that a wave in an absorbing film decays. */
export function squareRoot(a: Complex): Complex {
  const modulus = Math.sqrt(squaredModulus(a));
  const re = Math.sqrt(Math.max(0, (modulus + a.re) / 2));
  const im = Math.sqrt(Math.max(0, (modulus - a.re) / 2));
  return { re, im: a.im < 0 ? -im : im };
}

/** exp(ia). */
export function phaseFactor(a: Complex): Complex {
  const decay = Math.exp(-a.im);
  return { re: decay * Math.cos(a.re), im: decay * Math.sin(a.re) };
}
