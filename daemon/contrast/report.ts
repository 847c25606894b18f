import {
  alikeLayers,
  apartAtErrors,
  bestFilter,
  bestOxides,
  channelLight,
  coloursSeen,
  contrastError,
  contrastPeaks,
  countedLadder,
  type AlikeLayers,
  type BandPass,
  type BandSet,
  type BestFilter,
  type BestOxides,
  type Film,
  type IndexTable,
  type Lamp,
  type MaterialId,
  type Peak,
  type Rung,
  type ViewOptions,
} from '../../planner/optics/index.ts';

/** What a person asks `nightjar contrast`. */
export interface ContrastRequest {
  readonly materialName: string;
  readonly material: MaterialId | Film;
  readonly oxideNm: number;
  /** Another oxide than fused silica. */
  readonly oxide?: IndexTable;
  readonly numericalAperture: number;
  readonly lampName: string;
  readonly lamp: Lamp;
  readonly filter?: BandPass;
  readonly camera: BandSet;
  readonly layers: readonly [number, number];
  readonly noise: number;
  readonly unevenness: number;
  readonly areaUm2: number;
  readonly pixelUm: number;
}

export interface Channel {
  readonly name: string;
  /** Mean wavelength of lamp, filter and band together. */
  readonly meanNm: number;
}

export type ContrastWarning =
  | AlikeLayers
  /** A channel that gets no light worth measuring through the filter. */
  | { readonly kind: 'darkChannel'; readonly channel: string }
  /** One layer is faint or lost without a filter, and can be told from the bare surface through the best one; in standard errors, all channels together. */
  | { readonly kind: 'filterHelps'; readonly filter: BandPass; readonly errors: number; readonly unfilteredErrors: number };

export interface ContrastReport {
  readonly request: ContrastRequest;
  /** Channels that get light; all figures per channel follow this order. */
  readonly channels: readonly Channel[];
  readonly ladder: readonly (Rung & { readonly srgb: string })[];
  /** For one layer, in this light and camera. */
  readonly bestOxides: BestOxides;
  /** For one layer on this oxide, chosen for the lamp without a filter. */
  readonly bestFilter: BestFilter;
  /** Wavelengths of greatest contrast of one layer, signed. */
  readonly peaks: readonly Peak[];
  readonly pixels: number;
  /** Standard error of a terrace's contrast, the same for every channel. */
  readonly error: number;
  readonly warnings: readonly ContrastWarning[];
}

/** A channel with less light than this share of the brightest one's counts as dark. */
const darkShare = 0.01;

export function channelNames(camera: BandSet): readonly string[] {
  if (camera.name === 'cie-observer') return ['X', 'Y', 'Z'];
  return camera.bands.length === 1 ? ['grey'] : ['red', 'green', 'blue'];
}

interface Lit {
  readonly bands: BandSet;
  readonly channels: readonly Channel[];
  readonly dark: readonly string[];
}

function litChannels(camera: BandSet, lamp: Lamp): Lit {
  const names = channelNames(camera);
  const light = channelLight(lamp, camera);
  const brightest = Math.max(...light.map(({ power }) => power));
  const all = camera.bands.map((band, i) => ({ band, name: names[i] ?? `channel ${i + 1}`, power: light[i]?.power ?? 0, meanNm: light[i]?.meanNm ?? 0 }));
  const lit = all.filter(({ power }) => power > 0 && power >= darkShare * brightest);
  return { bands: { name: camera.name, bands: lit.map(({ band }) => band) }, channels: lit.map(({ name, meanNm }) => ({ name, meanNm })), dark: all.filter((one) => !lit.includes(one)).map(({ name }) => name) };
}

const hex = (srgb: readonly number[]): string => `#${srgb.map((value) => value.toString(16).padStart(2, '0')).join('')}`;

/** A first layer that stands at least twice as far from the bare surface as is needed wants no filter. */
const seenWell = 2 * apartAtErrors;
/** A filter that helps less than this is not worth the light. */
const worthwhileGain = 1.2;

function warningsOf(request: ContrastRequest, alike: readonly AlikeLayers[], { filter, errors, unfiltered }: BestFilter, dark: readonly string[]): ContrastWarning[] {
  const isFaint = request.filter === undefined && unfiltered.errors < seenWell;
  const helps = isFaint && errors >= Math.max(apartAtErrors, worthwhileGain * unfiltered.errors);
  return [
    ...dark.map((channel) => ({ kind: 'darkChannel' as const, channel })),
    ...alike.filter(({ layers: [from] }) => from >= request.layers[0]),
    ...(helps ? [{ kind: 'filterHelps' as const, filter, errors, unfilteredErrors: unfiltered.errors }] : []),
  ];
}

/** The spectral step that suits the light: 1 nm behind a filter, 5 nm otherwise. */
function viewOf(request: ContrastRequest, bands: BandSet, lamp: Lamp): ViewOptions {
  const { material, oxideNm, numericalAperture, oxide, filter } = request;
  return { material, oxideNm, numericalAperture, lamp, bands, stepNm: filter ? 1 : 5, ...(oxide && { oxide }) };
}

/** Everything that `nightjar contrast` prints, as figures. The planner's optics do the work; the page may ask them the same. */
export function contrastReport(request: ContrastRequest): ContrastReport {
  const lamp: Lamp = request.filter ? { kind: 'filtered', lamp: request.lamp, filter: request.filter } : request.lamp;
  const { bands, channels, dark } = litChannels(request.camera, lamp);
  const view = viewOf(request, bands, lamp);
  const layersMax = request.layers[1];
  const pixels = Math.max(1, Math.round(request.areaUm2 / request.pixelUm ** 2));
  const measurement = { noise: request.noise, pixels, unevenness: request.unevenness };
  const rungs = countedLadder({ ...view, layersMax });
  const colours = coloursSeen({ ...view, layersMax });
  const filter = bestFilter({ ...view, lamp: request.lamp, bands: request.camera, measurement });
  const alike = alikeLayers(rungs.map(({ contrast }) => contrast), measurement);
  return {
    request,
    channels,
    ladder: rungs.map((rung, i) => ({ ...rung, srgb: hex(colours[i]?.srgb8 ?? [0, 0, 0]) })).slice(request.layers[0]),
    bestOxides: bestOxides(view),
    bestFilter: filter,
    peaks: contrastPeaks(view),
    pixels,
    error: contrastError(measurement, 0),
    warnings: warningsOf(request, alike, filter, dark),
  };
}

/** The same as plain data for scripts: names in place of tables. */
export function contrastJson(report: ContrastReport): object {
  const { request, ...figures } = report;
  const { materialName, oxideNm, numericalAperture, lampName, filter, camera, layers, noise, unevenness, areaUm2, pixelUm } = request;
  return { material: materialName, oxideNm, numericalAperture, lamp: lampName, filter: filter ?? null, camera: camera.name, layers, noise, unevenness, areaUm2, pixelUm, ...figures };
}
