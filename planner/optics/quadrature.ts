/** Nodes and weights for an average over 0..1; the weights add up to 1. */
export interface Quadrature {
  readonly nodes: readonly number[];
  readonly weights: readonly number[];
}

/** Legendre's P_n and its derivative at x, |x| < 1, by the three-term recurrence (Abramowitz & Stegun 8.5.3 and 8.5.4, from memory). */
function legendre(order: number, x: number): readonly [number, number] {
  let previous = 1;
  let value = x;
  for (let degree = 2; degree <= order; degree++) {
    const next = ((2 * degree - 1) * x * value - (degree - 1) * previous) / degree;
    previous = value;
    value = next;
  }
  return [value, (order * (x * value - previous)) / (x * x - 1)];
}

/**
 * Gauss-Legendre quadrature moved to 0..1. Roots by Newton's method from Tricomi's guess cos(pi (i - 1/4)/(n + 1/2)), weights
 * 2/((1 - x^2) P_n'(x)^2) (Abramowitz & Stegun 25.4.29, from memory; tests compare with table 25.4).
 * @param order number of nodes, 1 to 64
 * @throws RangeError for any other order
 */
export function gaussLegendre(order: number): Quadrature {
  if (!Number.isInteger(order) || order < 1 || order > 64) throw new RangeError(`quadrature order ${order} is not a whole number from 1 to 64`);
  const nodes: number[] = [];
  const weights: number[] = [];
  for (let index = 1; index <= order; index++) {
    let x = -Math.cos((Math.PI * (index - 0.25)) / (order + 0.5));
    for (let step = 0; step < 8; step++) {
      const [value, slope] = legendre(order, x);
      x -= value / slope;
    }
    const slope = legendre(order, x)[1];
    nodes.push((1 + x) / 2);
    weights.push(1 / ((1 - x * x) * slope * slope));
  }
  return { nodes, weights };
}
