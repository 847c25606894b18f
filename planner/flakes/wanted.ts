import { measuresThickness } from '../layers/tuning.ts';
import type { BookContext } from './context.ts';
import type { LayerCall, Terrace, ThicknessCall } from './types.ts';

/** Share of the probability that has to lie in the range of thickness looked for. */
const MOSTLY = 0.5;
/** A reading beside the leading one reaches this many standard errors to either side. */
const REACH = 2;

/** Whether flakes are looked for by thickness in nm, and not by layers. */
export function seeksThickness(context: BookContext): boolean {
  return context.thicknessFromNm !== undefined && context.thicknessToNm !== undefined && measuresThickness(context);
}

/**
 * How sure it is that a terrace is looked for, 0 to 1; 0 where it is not. By layers the most probable number must be in the range; by
 * thickness most of the probability, each reading being spread evenly over its interval.
 */
export function wantedShare(call: LayerCall, context: BookContext): number {
  if (seeksThickness(context)) {
    const share = call.thickness ? shareWithin(call.thickness, context.thicknessFromNm ?? 0, context.thicknessToNm ?? 0) : 0;
    return share > MOSTLY ? share : 0;
  }
  const { layers } = call;
  return layers !== null && layers >= context.layersFrom && layers <= context.layersTo ? call.probability : 0;
}

function shareWithin({ lowNm, highNm, weight, alternatives }: ThicknessCall, fromNm: number, toNm: number): number {
  const leading = highNm === null ? 0 : weight * overlap(lowNm, highNm, fromNm, toNm);
  return alternatives.reduce((sum, a) => sum + a.weight * overlap(a.nm - REACH * a.errorNm, a.nm + REACH * a.errorNm, fromNm, toNm), leading);
}

/** Share of a to b that lies within from to to. */
function overlap(a: number, b: number, from: number, to: number): number {
  return b > a ? Math.max(0, Math.min(b, to) - Math.max(a, from)) / (b - a) : 0;
}

/**
 * The terrace that a flake is judged by. By thickness: the largest that is looked for. By layers: the thinnest counted one that is large
 * enough to use, else the largest counted one.
 */
export function usableTerrace(terraces: readonly Terrace[], context: BookContext): Terrace | undefined {
  const wanted = seeksThickness(context) ? terraces.filter((t) => wantedShare(t.call, context) > 0) : [];
  if (wanted.length > 0) return wanted.reduce((best, t) => (t.inscribedUm > best.inscribedUm ? t : best));
  const counted = terraces.filter((t) => t.call.layers !== null);
  const large = counted.filter((t) => t.inscribedUm >= context.leastUsableUm);
  const thinnest = (best: Terrace | undefined, t: Terrace): Terrace =>
    best && ((best.call.layers ?? 0) < (t.call.layers ?? 0) || (best.call.layers === t.call.layers && best.inscribedUm >= t.inscribedUm)) ? best : t;
  if (large.length > 0) return large.reduce<Terrace | undefined>(thinnest, undefined);
  return counted.reduce<Terrace | undefined>((best, t) => (best && best.areaUm2 >= t.areaUm2 ? best : t), undefined);
}
