import type { ContrastChart } from '../../planner/optics/index.ts';

/** Colours of a chart: the house's dark ground and its inks. */
export const chartInk = { ground: '#14110e', ink: '#ece4d6', ink2: '#bdb2a2', ink3: '#988d7e', line: '#7f7465', casing: '#0c0a08', onPicture: '#f3ecdf' } as const;

/** Most steps that an eye keeps apart on one ink scale. */
const mostSteps = 8;
/** Contrasts beyond this share of the chart share the last step, so that one dark fringe does not take the whole scale. */
const shownShare = 0.97;

/** Steps of |contrast|, each the lower end of its band: even, at 1, 2 or 5 times a power of ten. */
export function levelsFor(chart: ContrastChart): number[] {
  const sizes = Float64Array.from(chart.contrast, Math.abs).sort();
  const top = Math.max(sizes[Math.floor(shownShare * (sizes.length - 1))] ?? 0, 1e-6);
  const decade = 10 ** Math.floor(Math.log10(top / mostSteps));
  const step = [1, 2, 5, 10].map((n) => n * decade).find((n) => top / n <= mostSteps) ?? 10 * decade;
  const count = Math.max(1, Math.floor(top / step));
  return Array.from({ length: count }, (_, i) => Number(((i + 1) * step).toPrecision(6)));
}

/** The ink of step `index` of `count`; step -1 is the bare ground. */
export function stepInk(index: number, count: number): string {
  const share = (index + 1) / count;
  const channel = (hexColour: string, at: number): number => Number.parseInt(hexColour.slice(at, at + 2), 16);
  const mixed = [1, 3, 5].map((at) => Math.round(channel(chartInk.ground, at) + share * (channel(chartInk.ink, at) - channel(chartInk.ground, at))));
  return `#${mixed.map((value) => value.toString(16).padStart(2, '0')).join('')}`;
}
