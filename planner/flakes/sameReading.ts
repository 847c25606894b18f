import { distanceUm } from '../units/index.ts';
import type { Reading } from './kept.ts';

/** A flake that settles by less than this has not moved. */
const MOVED_UM = 0.1;
/** Nor has one's clearance changed that changed by less than this. */
const NOTICED_UM = 0.5;
const PROBABILITY_NOTICED = 0.005;

/** Whether a flake reads as before, as far as a person would notice. */
export function sameReading(before: Reading | undefined, after: Reading): boolean {
  if (!before || before.verdict !== after.verdict || before.layers !== after.layers || before.reject !== after.reject) return false;
  if (distanceUm(before.centreUm, after.centreUm) > MOVED_UM || before.terraces.length !== after.terraces.length) return false;
  if (!sameSurroundings(before, after)) return false;
  return before.terraces.every((t, i) => {
    const other = after.terraces[i]?.call;
    return other !== undefined && other.layers === t.call.layers && Math.abs(other.probability - t.call.probability) < PROBABILITY_NOTICED && other.thicknessNm === t.call.thicknessNm;
  });
}

/** Whether what stands around and lies on a flake is as before. */
function sameSurroundings(before: Reading, after: Reading): boolean {
  const [a, b] = [before.clearance, after.clearance];
  if (a?.nearest !== b?.nearest || Math.abs((a?.gapUm ?? 0) - (b?.gapUm ?? 0)) > NOTICED_UM) return false;
  const [p, q] = [before.cleanliness, after.cleanliness];
  return p?.blemishes === q?.blemishes && Math.abs((p?.share ?? 0) - (q?.share ?? 0)) < PROBABILITY_NOTICED;
}
