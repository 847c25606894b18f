/** How fast the axes can go, each by itself. */
export interface AxisPace {
  readonly maxSpeedMmPerS: number;
  readonly accelerationMmPerS2: number;
}

/** A straight way as the firmware drives it: along it, the slowest axis sets speed and acceleration. */
interface Way {
  readonly lengthMm: number;
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
}

function wayOf(deltaMm: readonly number[], paces: readonly AxisPace[], feedMmPerS: number): Way {
  const lengthMm = Math.hypot(...deltaMm);
  const along = (most: (pace: AxisPace) => number) =>
    Math.min(...deltaMm.map((delta, axis) => (delta === 0 ? Number.POSITIVE_INFINITY : (most(paces[axis] ?? { maxSpeedMmPerS: 0, accelerationMmPerS2: 0 }) * lengthMm) / Math.abs(delta))));
  return { lengthMm, speedMmPerS: Math.min(feedMmPerS, along((pace) => pace.maxSpeedMmPerS)), accelerationMmPerS2: along((pace) => pace.accelerationMmPerS2) };
}

/** The speed along a straight way that no axis' limit forbids, mm/s. */
export function waySpeedMmPerS(deltaMm: readonly number[], paces: readonly AxisPace[], feedMmPerS: number): number {
  return wayOf(deltaMm, paces, feedMmPerS).speedMmPerS;
}

/**
 * How long a straight way takes from rest to rest, ms: uniformly accelerated up to speed, on, and down again (any textbook of mechanics): s/v + v/a,
 * where v is the top speed that fits into the way.
 */
export function travelMs(deltaMm: readonly number[], paces: readonly AxisPace[], feedMmPerS: number): number {
  const { lengthMm, speedMmPerS, accelerationMmPerS2 } = wayOf(deltaMm, paces, feedMmPerS);
  if (lengthMm === 0) return 0;
  const top = Math.min(speedMmPerS, Math.sqrt(lengthMm * accelerationMmPerS2));
  return (lengthMm / top + top / accelerationMmPerS2) * 1000;
}

/** How long it takes to come to rest from full speed, ms. */
export function stoppingMs(deltaMm: readonly number[], paces: readonly AxisPace[], feedMmPerS: number): number {
  const { lengthMm, speedMmPerS, accelerationMmPerS2 } = wayOf(deltaMm, paces, feedMmPerS);
  return lengthMm === 0 ? 0 : (speedMmPerS / accelerationMmPerS2) * 1000;
}
