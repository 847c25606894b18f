import type { FlakeView } from '../../daemon/server/messages.ts';
import type { Flake, LayerCall } from '../../planner/flakes/types.ts';
import type { LayerMark } from '../layerRamp.ts';

/** What the list and the map show: everything flagged, one layer number of it, what is too thick to count, or what was rejected. */
export type LayerFilter = 'all' | number | 'thick' | 'rejected';

/** How a flake is marked: its layer number when it is flagged. */
export function markOf(flake: Flake): LayerMark {
  if (flake.verdict === 'rejected') return 'none';
  return flake.verdict === 'flagged' && flake.layers !== null ? flake.layers : 'thick';
}

/** How sure a reading is: of the layer number, or of the leading thickness where that is what is measured. */
export function sureness({ thickness, probability }: LayerCall): number {
  return thickness?.weight ?? probability;
}

/** True when the filter lets this flake through. Rejected ones are shown only when they are asked for. */
export function passes(flake: Flake, filter: LayerFilter): boolean {
  if (filter === 'all') return flake.verdict === 'flagged';
  if (filter === 'rejected') return flake.verdict === 'rejected';
  if (filter === 'thick') return flake.verdict !== 'rejected' && markOf(flake) === 'thick';
  return flake.verdict === 'flagged' && flake.layers === filter;
}

/** Best first, and of those without a rank the largest; equal ones by name, so that the order never depends on when they came. */
export function bestFirst(a: FlakeView, b: FlakeView): number {
  return b.flake.rank - a.flake.rank || b.flake.areaUm2 - a.flake.areaUm2 || (a.flake.id < b.flake.id ? -1 : 1);
}

/** The flakes that the filter lets through, best first. */
export function listed(flakes: ReadonlyMap<string, FlakeView>, filter: LayerFilter): readonly FlakeView[] {
  return [...flakes.values()].filter((view) => passes(view.flake, filter)).sort(bestFirst);
}

export interface LayerCount {
  readonly filter: Exclude<LayerFilter, 'all' | 'rejected'>;
  readonly count: number;
}

/** How many flakes each filter would show: 1 to 10 and "thick", always all of them, so that nothing moves as flakes come. */
export function countByLayers(flakes: ReadonlyMap<string, FlakeView>): readonly LayerCount[] {
  const counts = new Map<LayerMark, number>();
  for (const { flake } of flakes.values()) counts.set(markOf(flake), (counts.get(markOf(flake)) ?? 0) + 1);
  const numbers = Array.from({ length: 10 }, (_, i) => i + 1).map((filter) => ({ filter, count: counts.get(filter) ?? 0 }));
  return [...numbers, { filter: 'thick', count: counts.get('thick') ?? 0 }];
}

/** The flake after (or before) the chosen one; the first (or last) when none is chosen; goes round at the ends. */
export function neighbour(list: readonly FlakeView[], chosen: string | null, step: 1 | -1): string | null {
  if (list.length === 0) return null;
  const at = list.findIndex((view) => view.flake.id === chosen);
  const from = at < 0 ? (step === 1 ? -1 : list.length) : at;
  return list[(from + step + list.length) % list.length]?.flake.id ?? null;
}
