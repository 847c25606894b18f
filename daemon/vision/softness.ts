import type { Detection, MeasuredTerrace } from '../../planner/flakes/types.ts';

/** A terrace as large as this has so much edge that its width is known to a few per cent, um2. */
const LARGE_UM2 = 300;
/** Edges of this many other terraces tell how sharp this frame is. */
const OTHERS_LEAST = 3;
/** Sharp ones are the commoner: this quantile of the others stands for what a crystal's edge is here, in or out of focus. */
const SHARP_QUANTILE = 0.25;
/** Wider than what is sharp here by this factor, and than this in any case: a film. Crystals of simulated sets stay below 1.2 times. */
const SOFTER = 1.3;
const SOFT_ANYHOW = 1.4;
/** Narrow regions have no width of their own edges. */
const TELLING_RATIO = 0.5;

/**
 * Rejects what ends more softly than the rest of its frame: a thin dried film is even, and its colour may be a film's; its edge is not
 * that of a crystal. Only large terraces that are most of their find, and only where the frame has other edges to compare with.
 */
export function withoutSofter(detections: readonly Detection[]): readonly Detection[] {
  const telling = detections.filter((d) => d.reject === undefined).flatMap((d) => d.terraces.filter((t) => t.edgeWidthRatio > TELLING_RATIO));
  return detections.map((detection) => (detection.reject === undefined && isSofter(detection, telling) ? { ...detection, reject: 'softEdge' as const } : detection));
}

function isSofter({ terraces, areaUm2 }: Detection, telling: readonly MeasuredTerrace[]): boolean {
  const [largest] = [...terraces].sort((a, b) => b.areaUm2 - a.areaUm2);
  if (!largest || largest.areaUm2 < Math.max(LARGE_UM2, areaUm2 / 2)) return false;
  const others = telling.filter((t) => !terraces.includes(t)).map((t) => t.edgeWidthRatio).sort((a, b) => a - b);
  if (others.length < OTHERS_LEAST) return false;
  const sharp = others[Math.floor(SHARP_QUANTILE * others.length)] ?? 1;
  return largest.edgeWidthRatio > Math.max(SOFT_ANYHOW, SOFTER * sharp);
}
