/** A small dense matrix, one array per row. For systems of up to some dozens of unknowns. */
export type Matrix = readonly (readonly number[])[];

/** Pivots smaller than this share of their row's largest entry count as zero. */
const PIVOT_SHARE = 1e-13;

/** Inverse by Gauss-Jordan elimination with partial pivoting; `undefined` when the matrix is singular to working accuracy. */
export function invert(matrix: Matrix): Matrix | undefined {
  const size = matrix.length;
  const rows = matrix.map((row, i) => Float64Array.from([...row, ...row.map((_, j) => (i === j ? 1 : 0))]));
  const scale = matrix.map((row) => row.reduce((most, value) => Math.max(most, Math.abs(value)), 0));
  for (let column = 0; column < size; column += 1) {
    let pivotAt = column;
    for (let i = column + 1; i < size; i += 1) {
      if (Math.abs(entry(rows, i, column)) > Math.abs(entry(rows, pivotAt, column))) pivotAt = i;
    }
    const pivot = entry(rows, pivotAt, column);
    if (!(Math.abs(pivot) > PIVOT_SHARE * (scale[pivotAt] ?? 0))) return undefined;
    swap(rows, column, pivotAt);
    swap(scale, column, pivotAt);
    clearColumn(rows, column, pivot);
  }
  return rows.map((row) => [...row.subarray(size)]);
}

function entry(rows: readonly Float64Array[], i: number, j: number): number {
  return rows[i]?.[j] ?? 0;
}

function swap<T>(list: T[], i: number, j: number): void {
  const a = list[i];
  const b = list[j];
  if (a === undefined || b === undefined) return;
  list[i] = b;
  list[j] = a;
}

function clearColumn(rows: readonly Float64Array[], column: number, pivot: number): void {
  const source = rows[column];
  if (!source) return;
  for (let j = 0; j < source.length; j += 1) source[j] = (source[j] as number) / pivot;
  rows.forEach((row, i) => {
    const factor = row[column] ?? 0;
    if (i === column || factor === 0) return;
    for (let j = 0; j < row.length; j += 1) row[j] = (row[j] as number) - factor * (source[j] as number);
  });
}

/** Sum of products of two equally long lists. */
export function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, i) => sum + value * (b[i] ?? 0), 0);
}

/** Matrix times column. */
export function multiply(matrix: Matrix, column: readonly number[]): readonly number[] {
  return matrix.map((row) => dot(row, column));
}

/** A transposed times A: the normal matrix of a least-squares fit whose rows are `design`. */
function normalMatrix(design: Matrix): Matrix {
  const width = design[0]?.length ?? 0;
  const columns = Array.from({ length: width }, (_, j) => design.map((row) => row[j] ?? 0));
  return columns.map((a) => columns.map((b) => dot(a, b)));
}

export interface LeastSquares {
  readonly coefficients: readonly number[];
  readonly residuals: readonly number[];
  /** How much each value draws its own fit towards itself, 0 to 1: the diagonal of the hat matrix. */
  readonly leverages: readonly number[];
  readonly inverseNormal: Matrix;
  readonly sumOfSquares: number;
}

/** Least squares by the normal equations (columns should be of like size); `undefined` when the design is singular. */
export function leastSquares(design: Matrix, values: readonly number[]): LeastSquares | undefined {
  const inverseNormal = invert(normalMatrix(design));
  if (!inverseNormal) return undefined;
  const width = inverseNormal.length;
  const right = Array.from({ length: width }, (_, j) => design.reduce((sum, row, i) => sum + (row[j] ?? 0) * (values[i] ?? 0), 0));
  const coefficients = multiply(inverseNormal, right);
  const residuals = design.map((row, i) => (values[i] ?? 0) - dot(row, coefficients));
  const leverages = design.map((row) => dot(row, multiply(inverseNormal, row)));
  return { coefficients, residuals, leverages, inverseNormal, sumOfSquares: dot(residuals, residuals) };
}
