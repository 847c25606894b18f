import type { CalibrationView, ChipView, LightView } from '../daemon/server/messages.ts';
import type { BandPass, ContrastReport, ContrastWarning } from '../planner/optics/index.ts';
import { figure, signedPercent, withUnit } from './format.ts';

/** English texts of the contrast chart: what layers look like on tonight's oxide in tonight's light. */

const LAMPS: Readonly<Record<LightView['lamp'], string>> = { halogen: 'halogen lamp', whiteLed: 'white LED' };
const filterWords = ({ centreNm, widthNm }: BandPass): string => `${figure(centreNm)}/${withUnit(widthNm, 'nm')}`;
const surface = (layers: number): string => (layers === 0 ? 'the bare oxide' : `${layers} ${layers === 1 ? 'layer' : 'layers'}`);
const both = ([a, b]: readonly [number, number]): string => (a === 0 ? `${surface(a)} and ${surface(b)}` : `${a} and ${b} layers`);
const listed = (parts: readonly string[]): string => (parts.length < 2 ? parts.join('') : `${parts.slice(0, -1).join(', ')} and ${parts.at(-1) ?? ''}`);

type Alike<K extends 'alikeInChannel' | 'alikeInAll'> = Extract<ContrastWarning, { kind: K }>;

/** Neighbours that run on from each other are told as one: "neighbours from 4 to 10 layers". */
function runs(pairs: readonly (readonly [number, number])[]): string[] {
  const joined: [number, number][] = [];
  for (const [a, b] of pairs.filter(([from, to]) => to === from + 1)) {
    const open = joined.at(-1);
    if (open && open[1] === a) open[1] = b;
    else joined.push([a, b]);
  }
  return joined.map((run) => (run[1] === run[0] + 1 ? both(run) : `neighbours from ${surface(run[0])} to ${surface(run[1])}`));
}

function warnings({ warnings: all, channels, request }: ContrastReport): readonly string[] {
  const inChannel = channels.flatMap(({ name }, index) => {
    const pairs = all.filter((one): one is Alike<'alikeInChannel'> => one.kind === 'alikeInChannel' && one.channel === index);
    return pairs.length === 0 ? [] : [`In ${name} alone: ${listed(runs(pairs.map(({ layers }) => layers)))}.`];
  });
  const together = all.filter((one): one is Alike<'alikeInAll'> => one.kind === 'alikeInAll').map(({ layers }) => layers);
  const near = runs(together);
  const far = together.filter(([a, b]) => b > a + 1 && near.length === 0).map(both);
  const dark = all.flatMap((one) => (one.kind === 'darkChannel' ? [`The ${one.channel} channel gets next to no light.`] : []));
  const filter = all.flatMap((one) => (one.kind === 'filterHelps' ? [`One layer wants a filter: through ${filterWords(one.filter)} it stands ${figure(one.errors, 1)} standard errors from the bare oxide, without one ${figure(one.unfilteredErrors, 1)}.`] : []));
  const alone = inChannel.length === 0 ? [] : [`These cannot be told apart on ${withUnit(request.areaUm2, 'µm²')} of one channel:`, ...inChannel];
  const all3 = near.length + far.length === 0 ? [] : [`All channels together do not tell apart ${listed([...near, ...far])}.`];
  return [...dark, ...all3, ...filter, ...alone];
}

function bestFilter({ bestFilter: { filter, errors, unfiltered } }: ContrastReport): string {
  if (errors < 1.1 * unfiltered.errors) return 'none: a band-pass filter shows one layer hardly better';
  return `${filterWords(filter)}: one layer then stands ${figure(errors, 1)} standard errors from the bare oxide, without it ${figure(unfiltered.errors, 1)}`;
}

function bestOxide({ bestOxides, channels }: ContrastReport): string {
  const best = [...bestOxides.overall].sort((a, b) => Math.hypot(...b.contrast) - Math.hypot(...a.contrast)).slice(0, 3);
  if (best.length === 0) return 'none between 20 and 400 nm stands out';
  return best
    .map(({ oxideNm, contrast }) => {
      const channel = contrast.reduce((most, value, i) => (Math.abs(value) > Math.abs(contrast[most] ?? 0) ? i : most), 0);
      return `${withUnit(Math.round(oxideNm), 'nm')} (${channels[channel]?.name ?? ''} ${signedPercent(contrast[channel] ?? 0, 1)})`;
    })
    .join(', ');
}

export const opticsTexts = {
  title: (material: string): string => `Contrast of ${material}`,
  close: 'Close',
  working: 'Calculating…',
  noTable: (material: string): string => `The table of ${material} came with the run sheet: draw its chart with “nightjar contrast --material-file”.`,
  chips: 'Chip',
  subject: (chip: ChipView, light: LightView, calibration: CalibrationView | undefined): string => {
    const oxide = calibration ? `oxide ${withUnit(calibration.oxideNm, 'nm', 0)}, which fits the flakes best (box: ${figure(chip.oxideNm)})` : `oxide ${withUnit(chip.oxideNm, 'nm')} as the box says`;
    return `${chip.name}: ${oxide}; ${LAMPS[light.lamp]}, NA ${figure(light.numericalAperture, 2)}. Idealised camera channels; tables without any flake.`;
  },
  filter: (light: LightView): string => (light.filter === 'none' ? '' : `The band of the filter “${light.filter}” is not known here: figures are without it.`),
  chart: {
    title: 'One layer, each wavelength by itself',
    oxide: 'oxide, nm',
    wavelength: 'wavelength, nm',
    line: (oxideNm: number): string => withUnit(oxideNm, 'nm'),
    mark: (name: string, meanNm: number, contrast: number): string => `${name} ${figure(meanNm)}: ${signedPercent(contrast, 1)}`,
    scale: 'contrast, either sign',
    brighter: 'hatched: flake brighter',
    label: (material: string, oxideNm: number, channels: string): string => `Contrast of one layer of ${material} over wavelength and oxide; at ${withUnit(oxideNm, 'nm')}: ${channels}`,
  },
  curves: {
    title: 'Contrast against layer number',
    layers: 'layers',
    label: (rows: readonly string[]): string => `Contrast by layers: ${rows.join('; ')}`,
  },
  colours: { title: 'Colour to the eye, 0 to 10 layers', label: (layers: number, srgb: string): string => `${surface(layers)}: ${srgb}` },
  best: { oxide: 'Best oxide for one layer in this light', filter: 'Best filter on this oxide' },
  bestOxide,
  bestFilter,
  alike: 'What cannot be told apart',
  none: 'Neighbouring layer numbers can be told apart in every channel.',
  warnings,
  measured: ({ request, error }: ContrastReport): string => `For a terrace of ${withUnit(request.areaUm2, 'µm²')}, ${signedPercent(request.noise).replace('+', '')} noise of a pixel: contrast known to ±\u00a0${signedPercent(2 * error, 1).replace('+', '')} (2 s.e.).`,
  above: 'Above six layers the index of thin films is not known to hold: read those as ranges.',
} as const;
