import type { CalibrationView, CloseUpView, VerdictView } from '../daemon/server/messages.ts';
import type { Cleanliness, Clearance, EdgeFamily, FlakeBar, FlakeNote, RankParts, StraightEdge } from '../planner/flakes/shape/types.ts';
import type { Flake, LayerCall, RejectReason, ThicknessCall } from '../planner/flakes/types.ts';
import { OFF_CURVE } from '../planner/layers/limits.ts';
import type { LabelSource } from '../planner/layers/types.ts';
import { figure, probability, signedPercent, timeOfDay, withError, withUnit } from './format.ts';
import type { BarSize } from './state/barSize.ts';
import type { Means } from './state/judging.ts';

/** English texts about one flake: what is known of it, what is doubtful, and what people said. */

const REASONS: Readonly<Record<RejectReason, string>> = {
  softEdge: 'soft edge: a dried film or residue',
  offLayerCurve: 'its colour lies on no layer number: residue, dust or something else',
  unevenInside: 'uneven inside: residue or a bubble',
  line: 'a thin line: a scratch',
  dark: 'darker than any flake: dust',
  tooSmall: 'too small to be measured',
  chipEdge: 'the edge of the chip',
  tooBright: 'too bright to be measured: thick',
  metal: 'brighter than any film of this material: a metal mark',
  sensorDust: 'at one place of every frame: dust on the sensor',
};

const SOURCES: Readonly<Record<LabelSource, string>> = { raman: 'Raman', afm: 'AFM', blindEye: 'eye, prediction hidden', shownEye: 'eye, prediction shown' };
const MEANS: Readonly<Record<Means, string>> = { eye: 'Eye', raman: 'Raman', afm: 'AFM' };
const PARTS: Readonly<Record<keyof RankParts, string>> = { size: 'its size', layers: 'its layer number', probability: 'how certain the number is', cleanliness: 'what lies on it', enough: 'its size: smaller than wanted' };

const layers = (count: number): string => `${figure(count)} ${count === 1 ? 'layer' : 'layers'}`;
/** A length as it was typed, to a tenth. */
const decimals = (um: number): number => (Math.abs(um - Math.round(um)) < 0.05 ? 0 : 1);
const degrees = (value: number, error: number): string => withError(value, error, '°').replace(/\u00a0°$/, '°');

/** How likely it is that directions agree by accident. */
function accident(chance: number): string {
  if (chance < 0.01) return 'hardly by accident: less than 1 in 100';
  const often = `${Math.round(chance * 100)} in 100`;
  if (chance < 0.05) return `unlikely by accident: ${often}`;
  return chance < 0.2 ? `perhaps by accident: ${often}` : `may well be accident: ${often}`;
}

/** What one pass says, in so many words. */
function counted({ layers: count, probability: p }: LayerCall): string {
  return count === null ? 'no layer number' : `${layers(count)}, ${probability(p)}`;
}

/** What a second look at high magnification has changed. */
function closeUp({ optics, terraces }: CloseUpView, flake: Flake): readonly [head: string, rest: string] {
  const seen = terraces.find(({ terrace }) => flake.terraces[terrace]?.call.layers === flake.layers) ?? terraces[0];
  const before = seen && flake.terraces[seen.terrace]?.call;
  if (!seen || !before) return [`Looked at again at ${optics}.`, 'Its terraces were not found again in that frame: the count stays as it was.'];
  const now = counted(seen.together);
  if (seen.call.misfit > OFF_CURVE || seen.call.layers === null) return [`Looked at again at ${optics}:`, `that picture alone gives no layer number; the count stays at ${counted(before)}.`];
  if (counted(before) === now) return [`Looked at again at ${optics}:`, `still ${now}.`];
  return [`Looked at again at ${optics}: ${now}.`, `Before it was ${counted(before)}.`];
}

function doubt(note: FlakeNote): readonly [head: string, rest: string] {
  switch (note.kind) {
    case 'twoLayersOrFold': {
      const count = layers(note.layers);
      return [`${count} or a fold.`, `Terrace ${note.terrace + 1} is a strip along terrace ${note.base + 1} with twice its layers: colour cannot tell which.`];
    }
    case 'smallerThanWanted':
      return ['Smaller than wanted.', `The largest circle on it is ${withUnit(note.acrossUm, 'µm', 1)} across, and the run sheet asks for ${withUnit(note.wantedUm, 'µm', 1)}: it stands below all that are large enough.`];
    case 'confirmLarger':
      return ['Confirm at higher magnification.', `The part that counts is ${withUnit(note.acrossUm, 'µm', 1)} across, and this objective wants ${withUnit(note.neededUm, 'µm', 1)}.`];
    case 'halo':
      return ['A halo.', `Bare oxide beside terrace ${note.terrace + 1} differs from that of the whole frame by ${signedPercent(note.contrast, 1).replace('+', '')}: its contrast is so much less sure.`];
  }
}

function held(parts: RankParts): string {
  const share = (part: keyof RankParts): number => parts[part] ?? 1;
  const [least] = (Object.keys(PARTS) as (keyof RankParts)[]).sort((a, b) => share(a) - share(b));
  return least === undefined || share(least) > 0.9 ? 'nothing holds it down' : `held down most by ${PARTS[least]}`;
}

/** "12.3 nm (11.4 to 13.1)", "more than 99 nm": the leading reading with its interval. */
function thickness({ nm, lowNm, highNm }: ThicknessCall): string {
  const at = (value: number): string => figure(value, value < 30 ? 1 : 0);
  return highNm === null ? `more than ${at(lowNm)}\u00a0nm` : `${at(nm)}\u00a0nm, ${at(lowNm)} to ${at(highNm)}`;
}

export const flakeTexts = {
  closeUp,
  thickness,
  rejected: (reason: RejectReason | undefined): string => `Rejected: ${reason ? REASONS[reason] : 'no flake'}`,
  reason: (reason: RejectReason | undefined): string => (reason ? REASONS[reason] : 'no flake'),
  because: (reason: RejectReason | undefined): string => (reason ? `${REASONS[reason].charAt(0).toUpperCase()}${REASONS[reason].slice(1)}.` : ''),
  doubt,
  stray: (p: number): readonly [string, string] => ['Perhaps no film at all.', `Its colour is that of residue or dirt in ${Math.round(100 * p)} of 100 such readings.`],
  tooBright: ['Too bright to measure.', 'The camera was at its full scale on part of this flake: its thickness there is not known.'] as const,

  facts: {
    bar: 'Largest bar',
    barIs: (bar: FlakeBar): string => `${figure(bar.lengthUm)} × ${withUnit(bar.widthUm, 'µm')} at ${figure(bar.angleDeg)}°`,
    wanted: ({ lengthUm, widthUm }: BarSize): string => `Bar of ${figure(lengthUm, decimals(lengthUm))} × ${withUnit(widthUm, 'µm', decimals(widthUm))}`,
    fits: (angleDeg: number): string => `fits, at ${figure(angleDeg)}°`,
    noRoom: 'does not fit',
    looking: 'being looked for',
    free: 'Free around it',
    freeIs: (clearance: Clearance): string => `${clearance.nearest === undefined ? 'at least ' : ''}${withUnit(clearance.gapUm, 'µm')} to ${clearance.nearest === undefined ? 'anything thick or dirty' : 'what is thick or dirty'}`,
    clean: 'Clean',
    cleanIs: ({ share, blemishes }: Cleanliness): string => (blemishes === 0 ? 'all of it, nothing seen on it' : `${figure(Math.floor(100 * share))}\u00a0% of it; ${figure(blemishes)} ${blemishes === 1 ? 'blemish' : 'blemishes'}`),
    edges: 'Straight edges',
    edgesAre: (edges: readonly StraightEdge[]): string => (edges.length === 0 ? 'none' : `${figure(edges.length)}; longest ${withUnit(edges[0]?.lengthUm ?? 0, 'µm')} at ${degrees(edges[0]?.angleDeg ?? 0, edges[0]?.angleErrorDeg ?? 0)}`),
    family: '30° family',
    familyIs: (f: EdgeFamily): string => `${degrees(f.angleDeg, f.angleErrorDeg)}, ${figure(f.members)} of ${figure(f.directions)} directions; ${accident(f.chance)}`,
    noFamily: 'none: the edges do not agree',
    thickness: 'Thickness',
    thicknessIs: (call: ThicknessCall): string => `${thickness(call)} (95\u00a0%)`,
    orElse: 'Or, as colour repeats',
    orElseIs: (all: ThicknessCall['alternatives']): string => all.map(({ nm, errorNm, weight }) => `${withError(nm, errorNm, 'nm')} (${probability(weight)})`).join(', '),
    rank: 'Rank',
    rankIs: (rank: number, parts: RankParts): string => `${figure(rank)} of 100; ${held(parts)}`,
    rankParts: (parts: RankParts): string => `size ${figure(parts.size, 2)} × thinness ${figure(parts.layers, 2)} × certainty ${figure(parts.probability, 2)} × cleanliness ${figure(parts.cleanliness, 2)}${parts.enough === undefined ? '' : ` × smaller than wanted ${figure(parts.enough, 3)}`}`,
  },

  calibration: (nominalNm: number, c: CalibrationView | undefined): string => {
    if (!c || c.terraces + c.labels === 0) return 'Ladder from the tables alone';
    const from = [`${figure(c.terraces)} ${c.terraces === 1 ? 'terrace' : 'terraces'}`, ...(c.labels > 0 ? [`${figure(c.labels)} ${c.labels === 1 ? 'label' : 'labels'}`] : [])].join(' and ');
    return `Ladder from ${from}; fits best with ${withUnit(c.oxideNm, 'nm', 0)} of oxide (box: ${figure(nominalNm)})`;
  },
  scale: (scale: readonly number[]): string => `Optical thickness of a layer against the table’s, per channel: ${scale.map((s) => figure(s, 2)).join(', ')}.`,

  judge: {
    title: 'How many layers',
    ask: (terrace: number, of: number): string => (of > 1 ? `How many layers has terrace ${terrace + 1}?` : 'How many layers has it?'),
    predicted: (what: string, p: number): string => `Predicted: ${what}, p ${probability(p).replace('above ', '> ').replace('below ', '< ')}.`,
    noFlake: 'Predicted: no flake.',
    hidden: 'Prediction hidden.',
    said: (v: VerdictView): string => `${v.initials}: ${layers(v.layers)} (${SOURCES[v.source]}), ${timeOfDay(v.atMs)}.`,
    before: (v: VerdictView): string => `Predicted then: ${v.predictedLayers === null ? 'none counted' : layers(v.predictedLayers)}, p ${probability(v.predictedProbability).replace('above ', '> ').replace('below ', '< ')}.`,
    nobody: 'Nobody has said.',
    wasShown: 'You saw that: by eye it counts little.',
    blind: 'Prediction not shown to you.',
    give: (count: number): string => `Give ${layers(count)}`,
    means: MEANS,
    meansLabel: 'What the number was read from',
    initials: 'Initials',
    takeBack: 'Take back',
    saving: 'Saving, and reading the chip again…',
    later: 'Counts when the chip is next read again.',
    veil: 'Hide predictions',
    lost: 'This needs the connection.',
  },
} as const;
