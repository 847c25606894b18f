import { packSamples, rungPrior } from './likelihood.ts';
import type { PackedSamples } from './likelihood.ts';
import { measuresThickness } from './tuning.ts';
import type { ContrastSample, LabelledContrast, LabelSource, LadderContext } from './types.ts';

/** What a label says of where its terrace stands on the ladder. */
interface Evidence {
  /** How much likelier the rung that was named becomes against every other; infinite where it was measured. */
  readonly odds: number;
  /** Share of such labels whose terrace stands on no rung, or on another than was named: a label on the wrong flake. */
  readonly stray: number;
}

/**
 * Raman and AFM measure: only a mix-up of flakes is left, put at one in two thousand. A blind eye names the right one of a few thin
 * numbers nine times in ten and any other one seldom: about twenty to one. Who has seen the prediction repeats it nearly whether it is
 * right or not: three to one at most. Rough figures of ours, no source; between half and twice of each nothing else is read in our tests.
 */
const EVIDENCE: Readonly<Record<LabelSource, Evidence>> = {
  raman: { odds: Infinity, stray: 0.0005 },
  afm: { odds: Infinity, stray: 0.0005 },
  blindEye: { odds: 20, stray: 0.05 },
  shownEye: { odds: 3, stray: 0.1 },
};

/** The strongest evidence first. */
const STRENGTH: readonly LabelSource[] = ['raman', 'afm', 'blindEye', 'shownEye'];

/**
 * Eyes that were shown the prediction agree with the ladder as a whole: however many they are, they count as so many opinions, so that
 * no ladder can be nodded through.
 */
const SHOWN_MOST = 3;

/** No more labels than this are fitted, the strongest first: a laboratory goes on labelling for years. */
export const LABELS_MOST = 120;

/** Labelled terraces of one layer number and one source: they share the weights of the rungs. */
export interface LabelGroup {
  readonly samples: PackedSamples;
  readonly logWeights: Float64Array;
  readonly logStray: number;
}

/**
 * Labels that a ladder can use: of its number of channels, of a layer number that it has a rung for; the strongest of them when there
 * are too many, in their order.
 */
export function usableLabels(context: LadderContext, layers: Float64Array, labelled: readonly LabelledContrast[]): readonly LabelledContrast[] {
  const most = layers.at(-1) ?? 0;
  const usable = labelled.filter((l) => l.contrast.length === context.channels && l.layers >= 1 && l.layers <= most);
  if (usable.length <= LABELS_MOST) return usable;
  return STRENGTH.flatMap((source) => usable.filter((l) => l.source === source)).slice(0, LABELS_MOST);
}

/** The samples without those that have a label: each terrace counts once. */
export function unlabelled(samples: readonly ContrastSample[], labelled: readonly LabelledContrast[]): readonly ContrastSample[] {
  if (labelled.length === 0) return samples;
  const known = new Set(labelled.map((l) => l.contrast.join()));
  return samples.filter((s) => !known.has(s.contrast.join()));
}

/** Labels as the fit takes them: groups with the weights of their rungs. */
export function groupLabels(context: LadderContext, layers: Float64Array, labelled: readonly LabelledContrast[]): readonly LabelGroup[] {
  const shown = labelled.filter((l) => l.source === 'shownEye').length;
  const groups = new Map<string, LabelledContrast[]>();
  for (const label of labelled) {
    const key = `${label.source} ${label.layers}`;
    groups.set(key, [...(groups.get(key) ?? []), label]);
  }
  return [...groups.values()].map((group): LabelGroup => {
    const [{ source, layers: named }] = group as [LabelledContrast];
    const { odds, stray } = EVIDENCE[source];
    const weakened = source === 'shownEye' ? odds ** Math.min(1, SHOWN_MOST / shown) : odds;
    const logWeights = labelWeights(layers, namedBy(context, layers, named), weakened, 1 - stray);
    return { samples: packSamples(group, context.channels), logWeights, logStray: Math.log(stray) };
  });
}

/** Whether a rung is what a label names. Where thickness is measured, rungs stand apart and AFM is known to a layer or so. */
function namedBy(context: LadderContext, layers: Float64Array, named: number): (layers: number) => boolean {
  const nearest = layers.reduce((best, n) => (Math.abs(n - named) < Math.abs(best - named) ? n : best), Infinity);
  return measuresThickness(context) ? (n) => Math.abs(n - nearest) <= 1 + nearest / 40 : (n) => n === nearest;
}

/** Logarithm of each rung's share, the named one being `odds` times as likely as it was against the others. */
function labelWeights(layers: Float64Array, isNamed: (layers: number) => boolean, odds: number, share: number): Float64Array {
  const weights = layers.map((n) => (isNamed(n) ? rungPrior(n) : odds === Infinity ? 0 : rungPrior(n) / odds));
  const total = weights.reduce((sum, w) => sum + w, 0);
  return weights.map((w) => Math.log((share * w) / total));
}
