/** A quadratic surface over the frame: c0 + c1 x + c2 y + c3 x^2 + c4 x y + c5 y^2, with x and y from -1 to 1 over the field. */
export type Quadratic = readonly [number, number, number, number, number, number];

/** Value of a surface at a place. */
export function valueAt(q: Quadratic, x: number, y: number): number {
  return q[0] + q[1] * x + q[2] * y + q[3] * x * x + q[4] * x * y + q[5] * y * y;
}

/** Sums for least-squares fits of several surfaces over the same places; add points, then solve. */
export class QuadraticFit {
  private readonly normal = new Float64Array(36);
  private readonly right: readonly Float64Array[];
  private readonly sums: Float64Array;
  private readonly row = new Float64Array(6);
  private weight = 0;

  constructor(surfaces: number) {
    this.right = Array.from({ length: surfaces }, () => new Float64Array(6));
    this.sums = new Float64Array(surfaces);
  }

  /** A point at (x, y); its value for surface s is values[from + s]. */
  add(x: number, y: number, values: Float32Array, from: number): void {
    const { row, normal } = this;
    [row[0], row[1], row[2], row[3], row[4], row[5]] = [1, x, y, x * x, x * y, y * y];
    for (let i = 0; i < 6; i++) {
      const ti = row[i] as number;
      for (let j = 0; j <= i; j++) normal[i * 6 + j] = (normal[i * 6 + j] as number) + ti * (row[j] as number);
    }
    for (let s = 0; s < this.right.length; s++) {
      const right = this.right[s] as Float64Array;
      const value = values[from + s] as number;
      this.sums[s] = (this.sums[s] as number) + value;
      for (let i = 0; i < 6; i++) right[i] = (right[i] as number) + (row[i] as number) * value;
    }
    this.weight++;
  }

  /** The surfaces; a little ridge holds terms that the points do not fix, and fewer than 12 points give their mean. */
  solve(): readonly Quadratic[] {
    const a = Float64Array.from(this.normal, (_, at) => this.normal[at % 6 > Math.floor(at / 6) ? (at % 6) * 6 + Math.floor(at / 6) : at] as number);
    for (let i = 1; i < 6; i++) a[i * 7] = (a[i * 7] as number) + 1e-4 * this.weight;
    return this.right.map((right, s): Quadratic => {
      const mean = this.weight > 0 ? (this.sums[s] as number) / this.weight : 0;
      if (this.weight < 12) return [mean, 0, 0, 0, 0, 0];
      const [c0 = mean, c1 = 0, c2 = 0, c3 = 0, c4 = 0, c5 = 0] = solveSymmetric(a, right, 6);
      return [c0, c1, c2, c3, c4, c5];
    });
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
