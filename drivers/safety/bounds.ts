import { DriverError, type DriverErrorCode, type MoveOptions } from '../interfaces/index.ts';

/** Throws the code unless the value is a number from min to max. NaN and infinities never pass. */
export function requireWithin(code: DriverErrorCode, name: string, value: number, min: number, max: number): void {
  if (value >= min && value <= max && Number.isFinite(value)) return;
  throw new DriverError(code, { what: name, asked: value, min, max });
}

/**
 * The options with a speed of at most `maxSpeedUmPerS`: put in where none is asked for; a faster one, or one that is no positive
 * number, is refused with `tooFast`.
 */
export function withSpeedLimit(device: string, options: MoveOptions, maxSpeedUmPerS: number): MoveOptions {
  const { speedUmPerS } = options;
  if (speedUmPerS === undefined) return Number.isFinite(maxSpeedUmPerS) ? { ...options, speedUmPerS: maxSpeedUmPerS } : options;
  if (speedUmPerS > 0 && speedUmPerS <= maxSpeedUmPerS && Number.isFinite(speedUmPerS)) return options;
  throw new DriverError('tooFast', { device, askedUmPerS: speedUmPerS, maxUmPerS: maxSpeedUmPerS });
}
