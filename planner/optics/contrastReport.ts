import { alikeLayers, apartAtErrors, contrastError } from './apart.ts';
import type { AlikeLayers } from './apart.ts';
import type { BandSet } from './bands.ts';
import { channelLight } from './bands.ts';
import { bestFilter, contrastPeaks } from './bestFilter.ts';
import type { BestFilter } from './bestFilter.ts';
import { bestOxides } from './bestOxide.ts';
import type { BestOxides } from './bestOxide.ts';
import { coloursSeen } from './colour.ts';
import { contrastChart } from './contrastChart.ts';
import type { ContrastChart } from './contrastChart.ts';
import { countedLadder } from './countedLadder.ts';
import type { Rung } from './countedLadder.ts';
import type { ViewOptions } from './curves.ts';
import type { Peak } from './extrema.ts';
import type { BandPass } from './filters.ts';
import type { IndexTable } from './indexTable.ts';
import type { Lamp } from './lamps.ts';
import type { Film, MaterialId } from './materials.ts';


/** What a person asks `nightjar contrast`, or the page for tonight's chip. */
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

/** Everything that `nightjar contrast` prints, as figures. The page shows the same for tonight's chips. */
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

const chartStepNm = 4;
/** The widest oxide shown, or 100 nm beyond tonight's. */
const usualOxideNm = 400;

/** The chart of a report: contrast of its first flake rung over oxide and wavelength, each wavelength by itself. */
export function chartOf({ request }: ContrastReport): ContrastChart & { readonly layers: number } {
  const { material, numericalAperture, oxide, oxideNm } = request;
  const layers = Math.max(1, request.layers[0]);
  const oxideMaxNm = Math.max(usualOxideNm, Math.ceil((oxideNm + 100) / 100) * 100);
  const oxidesNm = Array.from({ length: oxideMaxNm / chartStepNm + 1 }, (_, i) => i * chartStepNm);
  return { ...contrastChart({ material, numericalAperture, layers, oxidesNm, ...(oxide && { oxide }) }), layers };
}

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
