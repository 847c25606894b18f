/** How a number is written for the device. */
export interface NumberFormat {
  readonly decimals: number;
  readonly digits: number;
  readonly plus: boolean;
}

/** Our unit (um, fraction, position) to the device's and back, a straight line: device = ours x slope + offset. */
export interface Scale extends NumberFormat {
  readonly slope: number;
  readonly offset: number;
}

/** The device's units as it will be sent them: rounded to its decimals. */
export function toUnits(scale: Scale, value: number): number {
  return rounded(value * scale.slope + scale.offset, scale.decimals);
}

export function fromUnits({ slope, offset }: Scale, units: number): number {
  return (units - offset) / slope;
}

function rounded(units: number, decimals: number): number {
  return Number(units.toFixed(decimals));
}

/** Downwards, so that a speed is never more than was asked. */
export function roundedDown(units: number, decimals: number): number {
  const step = 10 ** decimals;
  // A hair is forgiven, so that 0.3 x 1000 stays 300.
  return Number((Math.floor(units * step * (1 + 1e-12)) / step).toFixed(decimals));
}

/** A number as the device reads it: `-012.50`, `+3`; never an exponent, never "-0". */
export function numberText(units: number, { decimals, digits, plus }: NumberFormat): string {
  const size = Math.abs(units).toFixed(decimals);
  const [whole = '0', part] = size.split('.');
  const text = [whole.padStart(digits, '0'), ...(part === undefined ? [] : [part])].join('.');
  const isNegative = units < 0 && Number(size) !== 0;
  return isNegative ? `-${text}` : `${plus ? '+' : ''}${text}`;
}
