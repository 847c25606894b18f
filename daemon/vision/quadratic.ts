/** A quadratic surface over the frame: c0 + c1 x + c2 y + c3 x^2 + c4 x y + c5 y^2, with x and y from -1 to 1 over the field. */
export type Quadratic = readonly [number, number, number, number, number, number];

/** The six terms at a place. */
export function terms(x: number, y: number): Quadratic {
  return [1, x, y, x * x, x * y, y * y];
}

/** Value of a surface at a place. */
export function valueAt(q: Quadratic, x: number, y: number): number {
  return q[0] + q[1] * x + q[2] * y + q[3] * x * x + q[4] * x * y + q[5] * y * y;
}

/** Sums for a least-squares fit; add points, then solve. */
export class QuadraticFit {
  private readonly normal = new Float64Array(36);
  private readonly right = new Float64Array(6);
  private weight = 0;
  private sum = 0;

  add(x: number, y: number, value: number): void {
    const t = terms(x, y);
    for (let i = 0; i < 6; i++) {
      const ti = t[i] as number;
      this.right[i] = (this.right[i] as number) + ti * value;
      for (let j = 0; j < 6; j++) this.normal[i * 6 + j] = (this.normal[i * 6 + j] as number) + ti * (t[j] as number);
    }
    this.weight++;
    this.sum += value;
  }

  /** The surface; a little ridge holds terms that the points do not fix, and fewer than 12 points give their mean. */
  solve(): Quadratic {
    const mean = this.weight > 0 ? this.sum / this.weight : 0;
    if (this.weight < 12) return [mean, 0, 0, 0, 0, 0];
    const a = Float64Array.from(this.normal);
    for (let i = 1; i < 6; i++) a[i * 7] = (a[i * 7] as number) + 1e-4 * this.weight;
    const solved = solveSymmetric(a, this.right, 6);
    return [solved[0] ?? mean, solved[1] ?? 0, solved[2] ?? 0, solved[3] ?? 0, solved[4] ?? 0, solved[5] ?? 0];
  }
}

/** Solves a positive definite system of order n by Cholesky's method; a pivot that is not positive counts as a tiny one. */
export function solveSymmetric(matrix: Float64Array, right: Float64Array, n: number): Float64Array {
  const l = Float64Array.from(matrix);
  for (let j = 0; j < n; j++) {
    for (let i = j; i < n; i++) {
      let s = l[i * n + j] as number;
      for (let k = 0; k < j; k++) s -= (l[i * n + k] as number) * (l[j * n + k] as number);
      l[i * n + j] = i === j ? Math.sqrt(Math.max(s, 1e-18)) : s / (l[j * n + j] as number);
    }
  }
  const x = Float64Array.from(right);
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < i; k++) x[i] = (x[i] as number) - (l[i * n + k] as number) * (x[k] as number);
    x[i] = (x[i] as number) / (l[i * n + i] as number);
  }
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) x[i] = (x[i] as number) - (l[k * n + i] as number) * (x[k] as number);
    x[i] = (x[i] as number) / (l[i * n + i] as number);
  }
  return x;
}
