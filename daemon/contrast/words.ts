import { apartAtErrors, type BandPass, type BestOxide, type Channel, type ContrastReport, type ContrastWarning } from '../../planner/optics/index.ts';
import { figure } from '../errors/index.ts';

const MINUS = '\u2212';

/** "7.7 %", "−1.1 %": a share with one decimal always, so that columns line up. */
export function percent(share: number): string {
  const text = Math.abs(100 * share).toFixed(1);
  return `${share < 0 && Number(text) !== 0 ? MINUS : ''}${text} %`;
}

export const filterWords = ({ centreNm, widthNm }: BandPass): string => `${figure(centreNm)}/${figure(widthNm)} nm`;

export function substrateWords(oxideNm: number): string {
  return oxideNm === 0 ? 'bare silicon' : `${figure(oxideNm)} nm oxide on silicon`;
}

/** "graphene on 290 nm oxide on silicon: halogen, NA 0.3, no filter, camera ideal-rgb". */
export function subjectWords({ request }: ContrastReport): string {
  const filter = request.filter ? `filter ${filterWords(request.filter)}` : 'no filter';
  return `${request.materialName} on ${substrateWords(request.oxideNm)}: ${request.lampName}, NA ${figure(request.numericalAperture, 3)}, ${filter}, camera ${request.camera.name}.`;
}

const oxideWords = ({ oxideNm }: BestOxide, contrast: number): string => `${Math.round(oxideNm)} nm (${percent(contrast)})`;

/** Oxides for each channel; the weak turning points between the strong ones are left out. */
export function bestOxideLines({ channels, bestOxides }: ContrastReport): string[] {
  return channels.map(({ name }, channel) => {
    const all = bestOxides.byChannel[channel] ?? [];
    const of = (one: BestOxide): number => one.contrast[channel] ?? 0;
    const strongest = Math.max(0, ...all.map((one) => Math.abs(of(one))));
    const told = all.filter((one) => Math.abs(of(one)) >= strongest / 2);
    return `  ${name}: ${told.length === 0 ? 'none from 20 to 400 nm' : told.map((one) => oxideWords(one, of(one))).join(', ')}`;
  });
}

/** The best filter against none, in one or two sentences. */
export function bestFilterWords({ bestFilter, peaks, request }: ContrastReport): string {
  const strongest = bestFilter.contrast.reduce((best, value) => (Math.abs(value) > Math.abs(best) ? value : best), 0);
  const gain = bestFilter.errors / bestFilter.unfiltered.errors;
  const where = peaks.map(({ at, value }) => `${percent(value)} at ${Math.round(at)} nm`).join(', ');
  const greatest = where === '' ? '' : ` Greatest contrast in light of one wavelength: ${where}.`;
  if (gain < 1.1) return `Best filter on ${substrateWords(request.oxideNm)}: none; a band-pass filter shows one layer hardly better.${greatest}`;
  return `Best filter on ${substrateWords(request.oxideNm)}: ${filterWords(bestFilter.filter)}, contrast ${percent(strongest)}; one layer stands ${figure(bestFilter.errors)} standard errors from the bare surface, without a filter ${figure(bestFilter.unfiltered.errors)}.${greatest}`;
}

const layerWords = (layers: number): string => (layers === 0 ? 'the bare surface' : `${layers} ${layers === 1 ? 'layer' : 'layers'}`);
const pairWords = ([a, b]: readonly [number, number]): string => (a === 0 ? `the bare surface and ${layerWords(b)}` : `${a} and ${b} layers`);

type Alike<K extends 'alikeInChannel' | 'alikeInAll'> = Extract<ContrastWarning, { kind: K }>;

/** Neighbours that are alike, joined into runs: 0-1, 1-2, 2-3 become one run from 0 to 3. */
function runsOf<W extends { readonly layers: readonly [number, number] }>(pairs: readonly W[]): W[][] {
  const runs: W[][] = [];
  for (const pair of pairs.filter(({ layers: [a, b] }) => b === a + 1)) {
    const open = runs.at(-1);
    if (open && open.at(-1)?.layers[1] === pair.layers[0]) open.push(pair);
    else runs.push([pair]);
  }
  return runs;
}

/** "1 and 2 layers", or "neighbours from the bare surface to 6 layers". */
function runWords(run: readonly { readonly layers: readonly [number, number] }[]): string {
  const from = run[0]?.layers[0] ?? 0;
  const to = run.at(-1)?.layers[1] ?? 0;
  return to === from + 1 ? pairWords([from, to]) : `neighbours from ${from === 0 ? layerWords(0) : from} to ${layerWords(to)}`;
}

function spanWords(values: readonly number[], words: (value: number) => string): string {
  const [least, most] = [words(Math.min(...values)), words(Math.max(...values))];
  return least === most ? least : `${least} to ${most}`;
}

function channelSentence(run: readonly Alike<'alikeInChannel'>[], { name }: Channel, areaUm2: number): string {
  const differences = spanWords(run.map(({ difference }) => difference), percent);
  return `In ${name}, ${runWords(run)} cannot be told apart: they differ by ${differences}, and ${percent(run[0]?.needed ?? 0)} is needed on ${figure(areaUm2)} µm².`;
}

/** Neighbours first; of the rest only pairs outside these runs, where a colour comes back. */
function togetherSentences(pairs: readonly Alike<'alikeInAll'>[]): string[] {
  const runs = runsOf(pairs);
  const inRun = ([a, b]: readonly [number, number]): boolean => runs.some((run) => a >= (run[0]?.layers[0] ?? 0) && b <= (run.at(-1)?.layers[1] ?? 0));
  const errors = (run: readonly Alike<'alikeInAll'>[]): string => spanWords(run.map(({ difference }) => difference), figure);
  const far = pairs.filter(({ layers }) => !inRun(layers)).map(({ layers }) => pairWords(layers));
  return [
    ...runs.map((run) => `All channels together do not tell ${runWords(run)} apart: ${errors(run)} standard errors, and ${figure(run[0]?.needed ?? 0)} are needed.`),
    ...(far.length === 0 ? [] : [`Colours come back: all channels together do not tell apart ${far.join('; ')}.`]),
  ];
}

/** Every warning as a sentence, the channels' first. */
export function warningSentences({ warnings, channels, request }: ContrastReport): string[] {
  const inChannels = channels.flatMap((channel, index) => {
    const pairs = warnings.filter((one): one is Alike<'alikeInChannel'> => one.kind === 'alikeInChannel' && one.channel === index);
    return runsOf(pairs).map((run) => channelSentence(run, channel, request.areaUm2));
  });
  const together = togetherSentences(warnings.filter((one): one is Alike<'alikeInAll'> => one.kind === 'alikeInAll'));
  const dark = warnings.flatMap((one) => (one.kind === 'darkChannel' ? [`The ${one.channel} channel gets next to no light and is left out.`] : []));
  const filter = warnings.flatMap((one) =>
    one.kind === 'filterHelps'
      ? [`One layer wants a filter: through ${filterWords(one.filter)} it stands ${figure(one.errors)} standard errors from the bare surface, without a filter ${figure(one.unfilteredErrors)}; ${apartAtErrors} are needed.`]
      : [],
  );
  return [...dark, ...inChannels, ...together, ...filter];
}

/** What the errors were made from. */
export function measurementWords({ request, pixels, error }: ContrastReport): string {
  return `On a terrace of ${figure(request.areaUm2)} µm² (${figure(pixels, 0)} pixels of ${figure(request.pixelUm, 3)} µm) a contrast is known to ± ${percent(2 * error)} (2 standard errors).`;
}
