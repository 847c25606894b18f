/** Samples that stood out alone in earlier frames of one camera, and in how many of them. */
export interface BadSamples {
  readonly seen: ReadonlyMap<number, number>;
  readonly frames: number;
}

export const noBadSamples: BadSamples = { seen: new Map(), frames: 0 };

/** Fewer frames than this cannot tell a bad sample from a chance. */
const FRAMES_LEAST = 3;
/** A bad sample shows in this share of the frames: at the edge of a flake it may not stand out. */
const SHARE_LEAST = 0.6;
/** Places remembered; beyond it those seen only once are forgotten. */
const REMEMBERED = 50_000;
/** After so many frames all counts are halved, so that a sample that goes bad in the night is known within as many frames again. */
const FRAMES_MOST = 64;

/** Adds what stood out in one frame (see `repairOutliers`). */
export function addOutliers(state: BadSamples, outliers: Int32Array): BadSamples {
  const seen = new Map(state.seen);
  for (const at of outliers) seen.set(at, (seen.get(at) ?? 0) + 1);
  if (seen.size > REMEMBERED) for (const [at, count] of seen) if (count <= 1) seen.delete(at);
  if (state.frames + 1 < FRAMES_MOST) return { seen, frames: state.frames + 1 };
  const halved = [...seen].map(([at, count]) => [at, count / 2] as const).filter(([, count]) => count >= 1);
  return { seen: new Map(halved), frames: (state.frames + 1) / 2 };
}

/** The samples that are bad, ascending: those that stood out at one place of the sensor in most frames, whatever lay there. */
export function badSamples(state: BadSamples): Int32Array {
  if (state.frames < FRAMES_LEAST) return new Int32Array(0);
  const least = Math.max(FRAMES_LEAST, SHARE_LEAST * state.frames);
  return Int32Array.from([...state.seen].filter(([, count]) => count >= least).map(([at]) => at)).sort();
}

/** Both lists as one, ascending, nothing twice. */
export function bothSets(one: Int32Array, other: Int32Array): Int32Array {
  if (one.length === 0) return other;
  return other.length === 0 ? one : Int32Array.from(new Set([...one, ...other])).sort();
}
