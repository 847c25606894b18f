/** A complex number; the simulator's own few operations. */
export interface Complex {
  readonly re: number;
  readonly im: number;
}

export const complex = (re: number, im = 0): Complex => ({ re, im });
export const plus = (a: Complex, b: Complex): Complex => ({ re: a.re + b.re, im: a.im + b.im });
export const minus = (a: Complex, b: Complex): Complex => ({ re: a.re - b.re, im: a.im - b.im });
export const times = (a: Complex, b: Complex): Complex => ({ re: a.re * b.re - a.im * b.im, im: a.re * b.im + a.im * b.re });
export const squaredSize = (a: Complex): number => a.re * a.re + a.im * a.im;

export function dividedBy(a: Complex, b: Complex): Complex {
  const size = squaredSize(b);
  return { re: (a.re * b.re + a.im * b.im) / size, im: (a.im * b.re - a.re * b.im) / size };
}

/** The square root with a real part that is not negative. */
export function root(a: Complex): Complex {
  const size = Math.hypot(a.re, a.im);
  const re = Math.sqrt((size + a.re) / 2);
  const im = Math.sqrt((size - a.re) / 2);
  return { re, im: a.im < 0 ? -im : im };
}

/** exp(i a). */
export function expI(a: Complex): Complex {
  const size = Math.exp(-a.im);
  return { re: size * Math.cos(a.re), im: size * Math.sin(a.re) };
}
