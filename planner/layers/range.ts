import type { LayerCall } from '../flakes/types.ts';
import { lastExactLayer } from '../optics/index.ts';
import { LAYERS_MOST, OFF_CURVE } from './limits.ts';

/** The numbers named hold this much of the probability together. */
const HELD = 0.95;

/** The fewest layer numbers that together hold 95 % of the probability, ascending; 11 stands for "thicker". */
export function numbersHolding(probabilities: readonly number[]): readonly number[] {
  const order = probabilities.map((_, n) => n).sort((a, b) => (probabilities[b] as number) - (probabilities[a] as number) || a - b);
  const total = probabilities.reduce((sum, p) => sum + p, 0);
  let held = 0;
  const among = order.filter((n) => {
    const wanted = held < HELD * total;
    if (wanted) held += probabilities[n] as number;
    return wanted;
  });
  return among.sort((a, b) => a - b);
}

/** Layer numbers that a terrace may have, as they can be said honestly. */
export interface LayerRange {
  readonly from: number;
  /** Null is open above: thicker than can be counted, too. */
  readonly to: number | null;
  /** Every number that may be, without "thicker"; all from `from` to `to` unless some between are ruled out. */
  readonly numbers: readonly number[];
}

/**
 * What may be said of a terrace's layers: the numbers that hold 95 % of the probability. Above six layers no index table is exact, and one
 * number alone is given as a range of three. Undefined for what lies on no layer curve.
 */
export function layerRange(call: LayerCall): LayerRange | undefined {
  if (call.misfit > OFF_CURVE) return undefined;
  const among = call.among ?? numbersHolding(call.probabilities);
  const [first = 0] = among;
  const last = among.at(-1) ?? first;
  if (last > LAYERS_MOST) return { from: first, to: null, numbers: among.filter((n) => n <= LAYERS_MOST) };
  if (last <= lastExactLayer) return { from: first, to: last, numbers: among };
  const [from, to] = first === last ? [first - 1, last + 1] : [first, last];
  const numbers = Array.from({ length: Math.min(to, LAYERS_MOST) - from + 1 }, (_, i) => from + i);
  return { from, to: to > LAYERS_MOST ? null : to, numbers };
}
