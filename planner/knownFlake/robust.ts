/** The median; the mean of the middle two where there is an even number. NaN of none. */
export function middleOf(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  const upper = sorted[half] ?? Number.NaN;
  return sorted.length % 2 === 1 ? upper : ((sorted[half - 1] ?? Number.NaN) + upper) / 2;
}

/** Makes the median absolute deviation of a normal distribution its standard deviation: 1 / (its upper quartile). */
const normalConsistency = 1.4826;
/**
 * What it comes out too small by in small samples, for 2 to 9 values; n / (n - 0.8) for more. Croux and Rousseeuw 1992, Time-efficient
 * algorithms for two highly robust estimators of scale, COMPSTAT 1, 411 (figures from memory; a test draws them anew).
 */
const smallSample: readonly number[] = [1.196, 1.495, 1.363, 1.206, 1.2, 1.14, 1.129, 1.107];

/** Standard deviation by the median absolute deviation, which one value in two could spoil without moving it far; undefined of fewer than two. */
export function spreadOf(values: readonly number[]): number | undefined {
  const { length } = values;
  if (length < 2) return undefined;
  const middle = middleOf(values);
  const correction = smallSample[length - 2] ?? length / (length - 0.8);
  return normalConsistency * correction * middleOf(values.map((value) => Math.abs(value - middle)));
}
