import type { StagePoint } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';

/** A place on the stage from the command line, "20000,21000". Throws `badUsage`. */
export function pointFrom(option: string, text: string): StagePoint {
  const [xUm, yUm, ...rest] = text.split(',').map((part) => (part.trim() === '' ? NaN : Number(part)));
  if (xUm === undefined || yUm === undefined || rest.length > 0 || !Number.isFinite(xUm) || !Number.isFinite(yUm)) {
    throw new NightjarError('badUsage', { reason: `${option} ${text}: x,y in um is wanted, such as 20000,21000` });
  }
  return { xUm, yUm };
}
