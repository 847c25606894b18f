/** Colours of a chart: the house's dark ground and its inks. */
export const chartInk = { ground: '#14110e', ink: '#ece4d6', ink2: '#bdb2a2', ink3: '#988d7e', line: '#7f7465', casing: '#0c0a08', onPicture: '#f3ecdf' } as const;

/** The ink of step `index` of `count`; step -1 is the bare ground. */
export function stepInk(index: number, count: number): string {
  const share = (index + 1) / count;
  const channel = (hexColour: string, at: number): number => Number.parseInt(hexColour.slice(at, at + 2), 16);
  const mixed = [1, 3, 5].map((at) => Math.round(channel(chartInk.ground, at) + share * (channel(chartInk.ink, at) - channel(chartInk.ground, at))));
  return `#${mixed.map((value) => value.toString(16).padStart(2, '0')).join('')}`;
}
