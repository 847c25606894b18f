import type { Division } from './regions.ts';
import type { Window } from './window.ts';

/** How much of each region's border it shares with whom: `shared[label]` maps a neighbour's label (0 for substrate) to a number of sides. */
export function bordersOf(window: Window, division: Division): readonly ReadonlyMap<number, number>[] {
  const shared = division.regions.map(() => new Map<number, number>());
  const { labels } = division;
  const { width } = window;
  const note = (a: number, b: number): void => {
    if (a === b) return;
    const [of, other] = [shared[a], shared[b]];
    if (of) of.set(b, (of.get(b) ?? 0) + 1);
    if (other) other.set(a, (other.get(a) ?? 0) + 1);
  };
  for (const at of window.inside) {
    const here = labels[at] as number;
    const col = at % width;
    if (col + 1 < width) note(here, labels[at + 1] as number);
    if (at + width < labels.length) note(here, labels[at + width] as number);
    // A side towards the substrate before the sample: samples outside of the component are not visited themselves.
    if (col > 0 && window.mask[at - 1] === 0) note(here, 0);
    if (at >= width && window.mask[at - width] === 0) note(here, 0);
  }
  return shared;
}
