import type { Ladder } from '../layers/types.ts';
import { OFF_CURVE, readContrast } from '../layers/posterior.ts';
import { measuresThickness } from '../layers/tuning.ts';
import type { BookContext } from './context.ts';
import { rankOf, rankParts } from './rank.ts';
import type { Detection, Flake, FlakeVerdict, RejectReason, Terrace } from './types.ts';

/** More saturated samples than this share: the camera cannot say how bright it is. */
const TOO_BRIGHT = 0.2;

type Read = Pick<Flake, 'terraces' | 'verdict' | 'layers' | 'usableUm' | 'rank'> & { readonly reject?: RejectReason };

/** Reads a flake's terraces on the ladder and judges it. */
export function readFlake(detection: Pick<Detection, 'terraces' | 'reject'>, ladder: Ladder, context: BookContext): Read {
  const terraces = detection.terraces.map((t): Terrace => ({ ...t, call: readContrast(ladder, t) }));
  if (detection.reject) return { terraces, verdict: 'rejected', reject: detection.reject, layers: null, usableUm: 0, rank: 0 };
  const reject = rejectReason(terraces, context);
  if (reject) return { terraces, verdict: 'rejected', reject, layers: null, usableUm: 0, rank: 0 };
  const usable = usableTerrace(terraces, context);
  if (!usable) return { terraces, verdict: 'thick', layers: null, usableUm: 0, rank: 0 };
  const { layers } = usable.call;
  const wanted = layers !== null && layers >= context.layersFrom && layers <= context.layersTo;
  const verdict: FlakeVerdict = wanted ? 'flagged' : 'thick';
  return { terraces, verdict, layers, usableUm: usable.inscribedUm, rank: wanted ? rankOf(rankParts(usable)) : 0 };
}

/** Why the frame alone said that a flake is none; what reading it said is to be judged again with another ladder. */
export function frameReject(flake: Pick<Flake, 'reject'>, context: BookContext): RejectReason | undefined {
  if (flake.reject === 'offLayerCurve' || (flake.reject === 'tooBright' && measuresThickness(context))) return undefined;
  return flake.reject;
}

/** Off the layer curve, or so bright that it cannot be read, for more than half of the area. */
function rejectReason(terraces: readonly Terrace[], context: BookContext): RejectReason | undefined {
  const share = (is: (t: Terrace) => boolean): number =>
    terraces.filter(is).reduce((sum, t) => sum + t.areaUm2, 0) / Math.max(1e-9, terraces.reduce((sum, t) => sum + t.areaUm2, 0));
  if (measuresThickness(context) && share((t) => t.saturatedShare > TOO_BRIGHT) > 0.5) return 'tooBright';
  return share((t) => t.saturatedShare <= TOO_BRIGHT && (t.call.misfit > OFF_CURVE || (t.call.probabilities[0] ?? 0) > 0.5)) > 0.5 ? 'offLayerCurve' : undefined;
}

/** The thinnest counted terrace that is large enough to use, else the largest counted one. */
function usableTerrace(terraces: readonly Terrace[], context: BookContext): Terrace | undefined {
  const counted = terraces.filter((t) => t.call.layers !== null);
  const large = counted.filter((t) => t.inscribedUm >= context.leastUsableUm);
  const thinnest = (best: Terrace | undefined, t: Terrace): Terrace =>
    best && ((best.call.layers ?? 0) < (t.call.layers ?? 0) || (best.call.layers === t.call.layers && best.inscribedUm >= t.inscribedUm)) ? best : t;
  if (large.length > 0) return large.reduce<Terrace | undefined>(thinnest, undefined);
  return counted.reduce<Terrace | undefined>((best, t) => (best && best.areaUm2 >= t.areaUm2 ? best : t), undefined);
}
