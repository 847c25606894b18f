import type { Film, MaterialId } from '../optics/index.ts';
import type { LadderContext } from './types.ts';

/** How far tables, wafers and cameras are trusted: one standard deviation each. */
export interface Trust {
  /** Oxide thickness against the box, as a share. */
  readonly oxideShare: number;
  /** Optical thickness of a layer, all channels together, as a logarithm: where it lies most likely against the table, and how far from there. */
  readonly scaleCentre: number;
  readonly scale: number;
  /** Farther than this from the centre nobody has ever seen a film. */
  readonly scaleWall: number;
  /** Whether every scale within the wall is about as likely as another. */
  readonly scaleFlat: boolean;
  /** The same for each channel by itself: tables differ in colour too. */
  readonly channelScale: number;
  /** Centre of a channel's band, nm. */
  readonly bandNm: number;
  /** Measured contrast over the stack's, per channel, as a logarithm: stray light, and how the level of bare oxide is averaged. */
  readonly gain: number;
  /** Oxide under one flake against the chip's mean, nm. */
  readonly localOxideNm: number;
  /** What the curve itself may be off by, as a share of the contrast and as contrast. */
  readonly curveShare: number;
  readonly curveFloor: number;
  /** Layers over which the curve's error doubles: index tables of one layer and of thick films part company slowly. */
  readonly partingLayers: number;
}

/**
 * Published index tables of graphene give contrasts of 0.69 to 1.3 times the one used here (published-values of the reference set). Above
 * some layers the tables part company. This and the rest was chosen with tests/bench/ladders.mjs and tests/bench/reliability.mjs.
 */
const GRAPHENE: Trust = { oxideShare: 0.03, scaleCentre: 0, scale: 0.2, scaleWall: 0.47, scaleFlat: false, channelScale: 0.06, bandNm: 8, gain: 0.03, localOxideNm: 1.5, curveShare: 0.015, curveFloor: 0.004, partingLayers: 25 };
/**
 * Monolayer tables of the dichalcogenides differ by 0.1 in contrast and more, and their thickness is an assumption. Excitons shift from one
 * layer to the next: from some layers on another table would be needed, and the curve is trusted less.
 */
const DICHALCOGENIDE: Trust = { ...GRAPHENE, scaleCentre: 0, scaleFlat: false, scale: 0.18, scaleWall: 0.5, channelScale: 0.1, curveShare: 0.02, curveFloor: 0.003, partingLayers: 12 };
/**
 * The index of hBN is known to a few hundredths, and nothing in the visible absorbs. Its thickness runs through so many layers that no
 * rung stands out: the scale is the table's.
 */
const BORON_NITRIDE: Trust = { ...GRAPHENE, scaleCentre: 0, scaleFlat: false, scale: 0.01, channelScale: 0.015, curveShare: 0.015, curveFloor: 0.004, partingLayers: 60 };

/** Graphite absorbs, and published tables of it differ by some per cent (from memory): between boron nitride and graphene. */
const GRAPHITE: Trust = { ...GRAPHENE, scaleCentre: 0, scaleFlat: false, scale: 0.06, channelScale: 0.06, curveShare: 0.04, curveFloor: 0.01, partingLayers: 100 };

const BY_MATERIAL: Readonly<Record<MaterialId, Trust>> = {
  graphene: GRAPHENE,
  graphite: GRAPHITE,
  hbn: BORON_NITRIDE,
  mos2: DICHALCOGENIDE,
  ws2: DICHALCOGENIDE,
  mose2: DICHALCOGENIDE,
  wse2: DICHALCOGENIDE,
  nbse2: DICHALCOGENIDE,
};

/** The trust for a context; an unknown lamp makes the bands less certain. */
export function trustOf(context: LadderContext): Trust {
  const trust = typeof context.material === 'string' ? BY_MATERIAL[context.material] : DICHALCOGENIDE;
  return context.lamp === 'unknown' ? { ...trust, bandNm: 1.6 * trust.bandNm } : trust;
}

/**
 * The trust that a ladder is fitted with. A few flakes of graphene cannot say which of the published tables is theirs, and within those,
 * rather less than more, every scale is as good as another; many can, and then one far from the table needs good reasons: else dirt
 * between the rungs would buy a ladder of half a layer.
 */
export function fitTrust(context: LadderContext, few: boolean): Trust {
  const trust = trustOf(context);
  return few && context.material === 'graphene' ? { ...trust, scaleCentre: -0.1, scale: 0.28, scaleFlat: true } : trust;
}

/** Whether thickness in nm is what is measured, and not only the layer number. */
export function measuresThickness(context: { readonly material: string | Film }): boolean {
  return context.material === 'hbn' || context.material === 'graphite';
}

/** Rungs are counted one by one up to this many layers: thicker flakes say little of the thin ones, and their index is another. */
const COUNTED = 20;
/** Where thickness is measured, a ladder is fitted on rungs up to this many layers, further apart where the film is thick. */
const FITTED = 360;
/** Thickness up to which such a ladder is read: colours have begun to repeat well before. */
export const THICKEST_MEASURED_NM = 300;

/** The layer numbers that a ladder is fitted on. */
export function ladderLayers(context: LadderContext): Float64Array {
  if (!measuresThickness(context)) return Float64Array.from({ length: COUNTED }, (_, i) => i + 1);
  const layers: number[] = [];
  for (let n = 1; n <= FITTED; n += n < 40 ? 1 : n < 120 ? 2 : 4) layers.push(n);
  return Float64Array.from(layers);
}

/** The layer numbers that a ladder is read with: bare oxide, those it is fitted on, and where thickness is measured thicker ones. */
export function readLayers(context: LadderContext, layerThicknessNm: number): Float64Array {
  const layers = [0, ...ladderLayers(context)];
  if (measuresThickness(context)) for (let n = (layers.at(-1) ?? 0) + 8; n * layerThicknessNm <= THICKEST_MEASURED_NM; n += 8) layers.push(n);
  return Float64Array.from(layers);
}

/** The curve's error at a rung, as a share of the contrast. */
export function curveShareAt(trust: Trust, layers: number): number {
  return trust.curveShare * (1 + layers / trust.partingLayers);
}
