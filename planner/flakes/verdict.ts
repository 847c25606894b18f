import type { Ladder } from '../layers/types.ts';
import { readContrast } from '../layers/posterior.ts';
import { measuresThickness } from '../layers/tuning.ts';
import { inBadCompany, isMostlyOffCurve, TOO_BRIGHT } from './company.ts';
import type { BookContext } from './context.ts';
import { isMetal } from './metal.ts';
import { isMostly } from './mostly.ts';
import { rankOf, rankParts } from './rank.ts';
import type { Detection, Flake, RejectReason, Terrace } from './types.ts';
import { usableTerrace, wantedShare } from './wanted.ts';

/** What reading settles; area and centre only where most of what was found is no flake. */
type Read = Pick<Flake, 'terraces' | 'verdict' | 'layers' | 'usableUm' | 'rank'> & Partial<Pick<Flake, 'reject' | 'areaUm2' | 'centreUm' | 'rankParts'>>;

/** Reads a flake's terraces on the ladder and judges it. */
export function readFlake(detection: Pick<Detection, 'terraces' | 'reject'>, ladder: Ladder, context: BookContext): Read {
  const terraces = detection.terraces.map((t): Terrace => ({ ...t, call: readContrast(ladder, t) }));
  if (detection.reject) return { terraces, verdict: 'rejected', reject: detection.reject, layers: null, usableUm: 0, rank: 0 };
  if (isMetal(terraces, ladder)) return { terraces, verdict: 'rejected', reject: 'metal', layers: null, usableUm: 0, rank: 0 };
  if (isMostlyOffCurve(terraces)) return readInCompany(terraces, context);
  if (isTooBright(terraces, context)) return { terraces, verdict: 'rejected', reject: 'tooBright', layers: null, usableUm: 0, rank: 0 };
  return judge(terraces, context);
}

/** A flake that residue or a film has run up to is one still; where there is none the whole is off the curve. */
function readInCompany(terraces: readonly Terrace[], context: BookContext): Read {
  const some = inBadCompany(terraces);
  const kept = some.filter((t) => t.call.layers !== null);
  const usable = usableTerrace(kept, context);
  if (!usable) return { terraces, verdict: 'rejected', reject: 'offLayerCurve', layers: null, usableUm: 0, rank: 0 };
  return { ...judge(some, context), areaUm2: kept.reduce((sum, t) => sum + t.areaUm2, 0), centreUm: usable.inscribedCentreUm };
}

function judge(terraces: readonly Terrace[], context: BookContext): Read {
  const usable = usableTerrace(terraces, context);
  if (!usable) return { terraces, verdict: 'thick', layers: null, usableUm: 0, rank: 0 };
  const { layers } = usable.call;
  const shared = { terraces, layers, usableUm: usable.inscribedUm };
  if (wantedShare(usable.call, context) === 0) return { ...shared, verdict: 'thick', rank: 0 };
  const parts = rankParts(usable, context);
  return { ...shared, verdict: 'flagged', rank: rankOf(parts), rankParts: parts };
}

/** Why the frame alone said that a flake is none; what reading it said is to be judged again with another ladder. */
export function frameReject(flake: Pick<Flake, 'reject'>, context: BookContext): RejectReason | undefined {
  if (flake.reject === 'offLayerCurve' || flake.reject === 'metal' || (flake.reject === 'tooBright' && measuresThickness(context))) return undefined;
  return flake.reject;
}

/** So bright for more than half of the area that its thickness cannot be read. */
function isTooBright(terraces: readonly Terrace[], context: BookContext): boolean {
  return measuresThickness(context) && isMostly(terraces, (t) => t.saturatedShare > TOO_BRIGHT);
}
