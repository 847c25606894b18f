import { areaUm2, containsPoint } from '../../planner/geometry/polygon.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import type { VerdictRecord } from '../records/types.ts';
import type { VerdictView } from '../server/messages.ts';

/**
 * The terrace of a flake that a verdict speaks of: the one it was given to while the place still lies on it, else the smallest that the
 * place lies on (terraces are merged and split when frames join), else the one of that index.
 */
export function terraceOf(flake: Pick<Flake, 'terraces'>, index: number, atUm: StagePoint): number | undefined {
  const on = flake.terraces.flatMap((terrace, i) => (terrace.outlineUm.length >= 3 && containsPoint(terrace.outlineUm, atUm) ? [{ i, areaUm2: areaUm2(terrace.outlineUm) }] : []));
  if (on.some(({ i }) => i === index)) return index;
  const [smallest] = on.sort((a, b) => a.areaUm2 - b.areaUm2);
  return smallest?.i ?? (index < flake.terraces.length ? index : undefined);
}

/** What people said of a flake's terraces and did not take back, as the page shows it; the last one counts where two speak of one terrace. */
export function verdictViews(flake: Flake, verdicts: readonly VerdictRecord[]): readonly VerdictView[] {
  const byTerrace = new Map<number, VerdictView>();
  for (const verdict of verdicts) {
    const terrace = verdict.withdrawnAtMs === undefined ? terraceOf(flake, verdict.terrace, verdict.atUm) : undefined;
    if (terrace === undefined) continue;
    const { layers, source, initials, note, atMs, predictedLayers, predictedProbability } = verdict;
    byTerrace.set(terrace, { terrace, layers, source, initials, ...(note === undefined ? {} : { note }), atMs, predictedLayers, predictedProbability });
  }
  return [...byTerrace.values()].sort((a, b) => a.terrace - b.terrace);
}
