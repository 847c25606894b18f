import type { CameraInfo } from '../../drivers/interfaces/index.ts';
import type { BlockReading } from './blocks.ts';
import type { LinearityUnknown } from './types.ts';

/** The long exposure is to reach this share of full scale, so that a bend near the upper end shows; the rest is room for noise. */
const WANTED_LEVEL = 0.85;
/** Fewer samples than this may be saturated: hot ones are always there. */
const MOST_SATURATED = 0.002;
/** Longer than this is not waited for: whoever needs it has too little light. */
const LONGEST_MS = 500;
const MOST_TRIES = 12;
/** A step of the exposure, and a gain by it, that is worth a try. */
const LARGEST_STEP = 16;
const WORTH = 1.15;
/** Room below an exposure that was found to saturate. */
const BELOW_SATURATION = 0.85;
/** A level near which the brightest blocks lie: as a share of all blocks, from below. */
const BRIGHT_SHARE = 0.9;

/** The bounds of the longer of two exposures 1:2; why not, where the camera has no two such. */
export function longBounds({ exposureMinMs, exposureMaxMs }: CameraInfo): { readonly minMs: number; readonly maxMs: number } | LinearityUnknown {
  const [minMs, maxMs] = [2 * exposureMinMs, Math.min(exposureMaxMs, Math.max(LONGEST_MS, 2 * exposureMinMs))];
  return minMs > maxMs ? { code: 'oneExposure', minMs: exposureMinMs, maxMs: exposureMaxMs } : { minMs, maxMs };
}

/**
 * Finds the longer exposure: as bright as can be without saturation. Begins with the one given, halves it while it saturates, and lengthens
 * it where there is room. Resolves with the exposure, or with `tooBright` when even the shortest saturates.
 * @param probe takes a frame of this exposure
 */
export async function longExposure(firstMs: number, { minMs, maxMs }: { readonly minMs: number; readonly maxMs: number }, probe: (exposureMs: number) => Promise<BlockReading>): Promise<number | LinearityUnknown> {
  let longMs = Math.min(maxMs, Math.max(minMs, firstMs));
  let goodMs: number | undefined;
  let tooLongMs = Infinity;
  for (let n = 0; n < MOST_TRIES; n++) {
    const reading = await probe(longMs);
    if (reading.saturatedShare > MOST_SATURATED) {
      tooLongMs = longMs;
      if (longMs <= minMs) break;
      // A camera that is not linear has been asked for too much: the middle is tried next.
      longMs = goodMs === undefined ? Math.max(minMs, longMs / 2) : Math.sqrt(goodMs * longMs);
      if (goodMs !== undefined && longMs < WORTH * goodMs) return goodMs;
      continue;
    }
    goodMs = longMs;
    const growth = Math.min(LARGEST_STEP, WANTED_LEVEL / Math.max(1e-6, brightLevel(reading)));
    const nextMs = Math.min(maxMs, BELOW_SATURATION * tooLongMs, longMs * growth);
    if (nextMs < WORTH * longMs) return longMs;
    longMs = nextMs;
  }
  return goodMs ?? { code: 'tooBright', shortMs: minMs / 2 };
}

/** About how bright the brightest blocks are, of whichever channel. */
function brightLevel({ means }: BlockReading): number {
  const sorted = means.filter(Number.isFinite).sort();
  return sorted[Math.floor(BRIGHT_SHARE * (sorted.length - 1))] ?? 0;
}
