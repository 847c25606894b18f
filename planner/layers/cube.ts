import { bandWeights, equalEnergy, filmOf, halogen, idealColourBands, idealMonoBands, prepareWafer, reflectanceSpectra, thickFilmOf, whiteLed } from '../optics/index.ts';
import type { BandSet, Lamp } from '../optics/index.ts';
import { measuresThickness } from './tuning.ts';
import type { LadderContext, LadderSetting, Rungs } from './types.ts';

/** Spectra of reflectance over oxide and film thickness, from which a ladder under any setting is interpolated. */
export interface Cube {
  readonly oxideFromNm: number;
  readonly oxideStepNm: number;
  readonly oxides: number;
  /** Film nodes are this far apart up to `fineFilms` of them, and {@link COARSE} times as far beyond. */
  readonly filmStepNm: number;
  readonly fineFilms: number;
  readonly films: number;
  readonly wavelengthsNm: readonly number[];
  /** oxide * films * wavelengths. */
  readonly reflectance: Float32Array;
  readonly lamp: Lamp;
  readonly bands: BandSet;
  readonly layerThicknessNm: number;
}

/** Coarser than a spectrum to look at, fine enough for contrast: the error is below 0.001. */
const FINENESS = { stepNm: 10, pupilNodes: 4 };
/** How far the oxide may be from nominal, as a share. */
const OXIDE_REACH = 0.12;
const OXIDE_NODES = 37;
/** Ladders are fitted with layers up to this many times as thick as the table's; where thickness is measured, the table is trusted more. */
const SCALE_REACH = 1.7;
const MEASURED_SCALE_REACH = 1.15;

function lampOf(context: LadderContext): Lamp {
  if (context.lamp === 'halogen') return halogen;
  return context.lamp === 'whiteLed' ? whiteLed : equalEnergy;
}

/** How much coarser the film nodes are where a layer more makes little difference. */
const COARSE = 4;
/** Layers up to which the nodes are fine. */
const FINE_LAYERS = 24;

/** The cube of a ladder up to `layersMax` layers: nodes of a quarter layer first, of a whole one beyond. */
export function ladderCube(context: LadderContext, layersMax: number): Cube {
  const { layerThicknessNm, table } = filmOf(context.material);
  const wafer = prepareWafer(table, context.numericalAperture, FINENESS);
  const fineNm = FINE_LAYERS * layerThicknessNm;
  const stepNm = layerThicknessNm / 4;
  const fineFilms = Math.ceil(fineNm / stepNm);
  const reach = measuresThickness(context) ? MEASURED_SCALE_REACH : SCALE_REACH;
  const coarseFilms = Math.ceil((layersMax * layerThicknessNm * reach - fineNm) / (COARSE * stepNm)) + 2;
  return makeCube(context, wafer, layerThicknessNm, { filmStepNm: stepNm, fineFilms, films: fineFilms + coarseFilms });
}

/** The cube of films too thick to count, up to `thicknessMaxNm`. */
export function thickCube(context: LadderContext, thicknessMaxNm: number): Cube {
  const film = thickFilmOf(context.material);
  const films = Math.ceil(thicknessMaxNm / 2) + 2;
  return makeCube(context, prepareWafer(film.table, context.numericalAperture, FINENESS), film.layerThicknessNm, { filmStepNm: 2, fineFilms: films, films });
}

type FilmNodes = Pick<Cube, 'filmStepNm' | 'fineFilms' | 'films'>;

function makeCube(context: LadderContext, wafer: ReturnType<typeof prepareWafer>, layerThicknessNm: number, nodes: FilmNodes): Cube {
  const { filmStepNm, fineFilms, films } = nodes;
  const thicknesses = Array.from({ length: films }, (_, i) => (i <= fineFilms ? i : fineFilms + (i - fineFilms) * COARSE) * filmStepNm);
  const reachNm = Math.max(OXIDE_REACH * context.oxideNm, 10);
  const oxideFromNm = Math.max(0, context.oxideNm - reachNm);
  const oxideStepNm = (context.oxideNm + reachNm - oxideFromNm) / (OXIDE_NODES - 1);
  const size = films * wafer.wavelengthsNm.length;
  const reflectance = new Float32Array(OXIDE_NODES * size);
  for (let i = 0; i < OXIDE_NODES; i++) reflectance.set(reflectanceSpectra(wafer, oxideFromNm + i * oxideStepNm, thicknesses), i * size);
  const bands = context.bands ?? (context.channels === 3 ? idealColourBands : idealMonoBands);
  const { wavelengthsNm } = wafer;
  return { oxideFromNm, oxideStepNm, oxides: OXIDE_NODES, ...nodes, wavelengthsNm, reflectance, lamp: lampOf(context), bands, layerThicknessNm };
}

/** Place of a thickness among the film nodes, as a node and a share of the way to the next. */
function filmPlace(cube: Cube, thicknessNm: number): number {
  const fine = thicknessNm / cube.filmStepNm;
  return fine <= cube.fineFilms ? fine : cube.fineFilms + (fine - cube.fineFilms) / COARSE;
}

/** Reflectance of bare oxide per channel under one setting. */
export function bareAt(cube: Cube, setting: LadderSetting): readonly number[] {
  const place = oxidePlace(cube, setting.oxideNm);
  const node = Math.floor(place);
  return setting.shiftNm.map((shiftNm, channel) => {
    const weights = shiftedWeights(cube, channel, shiftNm);
    const below = levelAt(cube, node, 0, weights);
    return below + (place - node) * (levelAt(cube, node + 1, 0, weights) - below);
  });
}

/** Place of an oxide among the nodes, as a node and a share of the way to the next. */
function oxidePlace(cube: Cube, oxideNm: number): number {
  return Math.min(cube.oxides - 1.001, Math.max(0, (oxideNm - cube.oxideFromNm) / cube.oxideStepNm));
}

/** Contrast of the given layer numbers under one setting, with its change per nm of oxide. */
export function rungsAt(cube: Cube, setting: LadderSetting, layers: Float64Array): Rungs {
  const channels = setting.scale.length;
  const contrast = new Float64Array(layers.length * channels);
  const perOxideNm = new Float64Array(layers.length * channels);
  const place = oxidePlace(cube, setting.oxideNm);
  const node = Math.floor(place);
  const share = place - node;
  for (let channel = 0; channel < channels; channel++) {
    const weights = shiftedWeights(cube, channel, setting.shiftNm[channel] as number);
    const gain = setting.gain[channel] as number;
    const bare = [levelAt(cube, node, 0, weights), levelAt(cube, node + 1, 0, weights)] as const;
    for (let rung = 0; rung < layers.length; rung++) {
      const film = filmPlace(cube, (layers[rung] as number) * cube.layerThicknessNm * (setting.scale[channel] as number));
      const below = gain * (1 - levelAt(cube, node, film, weights) / bare[0]);
      const above = gain * (1 - levelAt(cube, node + 1, film, weights) / bare[1]);
      contrast[rung * channels + channel] = below + share * (above - below);
      perOxideNm[rung * channels + channel] = (above - below) / cube.oxideStepNm;
    }
  }
  return { layers, channels, contrast, perOxideNm, between: betweenRungs(layers, channels, contrast) };
}

/** Layers between two rungs lie evenly along the way from one to the next: variance of an even spread, a twelfth of the step squared. */
function betweenRungs(layers: Float64Array, channels: number, contrast: Float64Array): Float64Array {
  const between = new Float64Array(contrast.length);
  for (let rung = 0; rung + 1 < layers.length; rung++) {
    if ((layers[rung + 1] as number) - (layers[rung] as number) < 1.5) continue;
    for (let c = 0; c < channels; c++) {
      const step = (contrast[(rung + 1) * channels + c] as number) - (contrast[rung * channels + c] as number);
      between[rung * channels + c] = (step * step) / 12;
    }
  }
  return between;
}

const weightCache = new WeakMap<Cube, Map<number, Float64Array>>();

/** Lamp times band, moved by a shift that is rounded to a quarter nm so that the weights can be kept. */
function shiftedWeights(cube: Cube, channel: number, shiftNm: number): Float64Array {
  const known = weightCache.get(cube) ?? new Map<number, Float64Array>();
  weightCache.set(cube, known);
  const steps = Math.round(4 * shiftNm);
  const key = channel * 100_000 + steps;
  const kept = known.get(key);
  if (kept) return kept;
  const band = cube.bands.bands[channel] ?? { kind: 'gaussian', centreNm: 550, sigmaNm: 60 };
  const moved =
    band.kind === 'gaussian' ? { ...band, centreNm: band.centreNm + steps / 4 } : { ...band, startNm: band.startNm + steps / 4 };
  const [weights = new Float64Array(cube.wavelengthsNm.length)] = bandWeights(cube.lamp, { name: 'moved', bands: [moved] }, cube.wavelengthsNm);
  known.set(key, weights);
  return weights;
}

/** Level of one channel at one oxide node and a place between film nodes. */
function levelAt(cube: Cube, oxideNode: number, film: number, weights: Float64Array): number {
  const count = weights.length;
  const node = Math.min(cube.films - 2, Math.floor(film));
  const share = film - node;
  let at = (oxideNode * cube.films + node) * count;
  let below = 0;
  let above = 0;
  for (let i = 0; i < count; i++, at++) {
    const w = weights[i] as number;
    below += w * (cube.reflectance[at] as number);
    above += w * (cube.reflectance[at + count] as number);
  }
  return below + share * (above - below);
}
