/** The slack of one axis from pictures at one commanded place, reached from either side. */
export interface SlackFit {
  /** How much further up the sample stands when it was reached from above. */
  readonly playUm: number;
  readonly errorUm: number;
  /** Standard deviation from one visit to the next, from the same side. */
  readonly scatterUm: number;
}

const LEAST_VISITS = 3;

/**
 * Difference of the two means, with its standard error from the scatter within each side.
 * @param belowUm where the sample stood along the axis, in um from anywhere, reached from below
 * @param aboveUm the same, reached from above
 */
export function fitSlack(belowUm: readonly number[], aboveUm: readonly number[]): SlackFit | undefined {
  if (Math.min(belowUm.length, aboveUm.length) < LEAST_VISITS) return undefined;
  const [below, above] = [spread(belowUm), spread(aboveUm)];
  const freedom = belowUm.length + aboveUm.length - 2;
  const variance = (below.squares + above.squares) / freedom;
  return {
    playUm: above.mean - below.mean,
    errorUm: Math.sqrt(variance * (1 / belowUm.length + 1 / aboveUm.length)),
    scatterUm: Math.sqrt(variance),
  };
}

function spread(values: readonly number[]): { readonly mean: number; readonly squares: number } {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return { mean, squares: values.reduce((sum, value) => sum + (value - mean) ** 2, 0) };
}

/** A way that takes up the slack of both axes for sure: a fifth more than the larger one, and three times their error. */
export function takeUpUm(axes: readonly SlackFit[]): number {
  return Math.ceil(Math.max(0, ...axes.map(({ playUm, errorUm, scatterUm }) => 1.2 * playUm + 3 * errorUm + scatterUm)));
}
