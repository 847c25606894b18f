import { boundingBox, distanceToEdgeUm } from '../geometry/polygon.ts';
import { edgesOf } from '../geometry/measure.ts';
import { OFF_CURVE } from '../layers/posterior.ts';
import { boxGapUm } from './shape/neighbour.ts';
import { isMostly } from './mostly.ts';
import type { Terrace } from './types.ts';

/** More saturated samples than this share: the camera cannot say how bright it is. */
export const TOO_BRIGHT = 0.2;
/** Two outlines that share a border are drawn this near each other, um. */
const SHARED_BORDER_UM = 1.2;
const STEP_UM = 2;
/** In such company a terrace counts when less than this share of its border is towards what is off the curve... */
const ENCLOSED_SHARE = 0.35;
/** ...and its number is as sure as this. */
const SURE = 0.9;

/** On no rung of the ladder and on no thicker film's: a dried film, residue, dirt. What is too bright to measure is not judged. */
export function isOffCurve(terrace: Terrace): boolean {
  const { misfit, stray = 0, probabilities } = terrace.call;
  return terrace.saturatedShare <= TOO_BRIGHT && (misfit > OFF_CURVE || stray > 0.5 || (probabilities[0] ?? 0) > 0.5);
}

/** Whether most of the area is off the layer curve: then the rest is suspected too. */
export function isMostlyOffCurve(terraces: readonly Terrace[]): boolean {
  return isMostly(terraces, isOffCurve);
}

/**
 * The terraces of a group that is mostly residue or dried film, with only those still counted that such things touch but do not enclose
 * and whose number is sure: a good flake that a film has run up to. The others keep their probabilities and lose their number.
 */
export function inBadCompany(terraces: readonly Terrace[]): readonly Terrace[] {
  const off = terraces.filter(isOffCurve);
  return terraces.map((t) => {
    const counts = t.call.layers !== null && t.call.probability >= SURE && !off.includes(t) && enclosedShare(t, off) <= ENCLOSED_SHARE;
    return counts || t.call.layers === null ? t : { ...t, call: { ...t.call, layers: null } };
  });
}

/** Share of a terrace's border that runs along others, looked at in steps of at most {@link STEP_UM}. */
function enclosedShare(terrace: Terrace, others: readonly Terrace[]): number {
  const box = boundingBox(terrace.outlineUm);
  const near = others.filter((o) => o.outlineUm.length >= 3 && boxGapUm(boundingBox(o.outlineUm), box) <= SHARED_BORDER_UM);
  if (near.length === 0) return 0;
  let [shared, all] = [0, 0];
  for (const { from, to } of edgesOf(terrace.outlineUm)) {
    const lengthUm = Math.hypot(to.xUm - from.xUm, to.yUm - from.yUm);
    const steps = Math.max(1, Math.ceil(lengthUm / STEP_UM));
    for (let i = 0; i < steps; i++) {
      const share = (i + 0.5) / steps;
      const place = { xUm: from.xUm + share * (to.xUm - from.xUm), yUm: from.yUm + share * (to.yUm - from.yUm) };
      if (near.some((o) => distanceToEdgeUm(o.outlineUm, place) <= SHARED_BORDER_UM)) shared += lengthUm / steps;
    }
    all += lengthUm;
  }
  return shared / Math.max(all, 1e-9);
}
