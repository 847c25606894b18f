import type { FrameSet } from '../../drivers/frameset/index.ts';
import { addOutliers, badSamples, bothSets, noBadSamples } from '../vision/badSamples.ts';
import { addSightings, noFixedSpots } from '../vision/fixedSpots.ts';
import type { FixedSpots } from '../vision/fixedSpots.ts';
import { addToFlatField, correctBlank, emptyFlatField, flatFieldFromBlank, flatFieldOf } from '../vision/flatField.ts';
import type { FlatField, FrameMeasurement, OpticalContext } from '../vision/types.ts';
import { inParallel } from './inParallel.ts';
import type { FrameProblem } from './report.ts';
import { measureImage, measureStored, poseOf } from './storedFrames.ts';
import type { Measure, Size } from './storedFrames.ts';

/** What the frames of a set say of the camera and its light, before any flake is looked for. */
export interface StoredLight {
  /** What the frames are read with from now on. */
  readonly optics: OpticalContext;
  readonly flat?: FlatField;
  /** Usual level of bare oxide, linear, per channel. */
  readonly substrate: readonly number[];
  /** Dust on the sensor. */
  readonly fixed: FixedSpots;
}

/** More frames than this teach the flat field nothing more. */
const FLAT_FRAMES = 31;

/**
 * The first pass over a set: flat field (from its blank frame where there is one, corrected where the frames agree that it shows dust
 * that is not there, or lacks some that is), usual level of bare oxide, dust on the sensor, and bad samples.
 */
export async function lightOf(
  set: FrameSet, size: Size, plain: OpticalContext, problems: Map<string, FrameProblem>, inFlight: number, measure: Measure,
): Promise<StoredLight> {
  const blank = await blankOf(set, size, plain, problems, measure);
  const blankFlat = blank && flatFieldFromBlank(blank.coarse);
  const first = blankFlat && blank ? { ...plain, flat: blankFlat, substrate: blank.substrate } : plain;
  const every = Math.max(1, set.frames.length / FLAT_FRAMES);
  const chosen = Array.from({ length: Math.min(FLAT_FRAMES, set.frames.length) }, (_, i) => Math.floor(i * every));
  let [state, fixed, bad] = [emptyFlatField, noFixedSpots, noBadSamples];
  const levels: (readonly number[])[] = [];
  for await (const [index, { measurement }] of inParallel(chosen, inFlight, (i) => measureStored(set, i, size, first, measure))) {
    if (!measurement || measurement.fault) continue;
    state = addToFlatField(state, measurement.coarse);
    levels.push(measurement.substrate);
    fixed = addSightings(fixed, measurement.detections, poseOf(set, index, size));
    bad = addOutliers(bad, measurement.outliers);
  }
  const own = flatFieldOf(state);
  const flat = blankFlat && own ? correctBlank(blankFlat, own) : (blankFlat ?? own);
  const substrate = blank?.substrate ?? middle(levels);
  const masked = bothSets(plain.masked ?? new Int32Array(0), badSamples(bad));
  const known = masked.length > 0 ? { ...plain, masked } : plain;
  return { optics: flat ? { ...known, flat, substrate } : known, ...(flat ? { flat } : {}), substrate, fixed };
}

async function blankOf(set: FrameSet, size: Size, optics: OpticalContext, problems: Map<string, FrameProblem>, measure: Measure): Promise<FrameMeasurement | undefined> {
  if (!set.hasBlank) return undefined;
  const { measurement, problem } = await measureImage('blankFrame', () => set.readBlank(), poseOf(set, 0, size), size, optics, measure);
  // A blank out of focus is as good: all that it may show is dust on the sensor, which is blurred anyway.
  if (!problem || problem.code === 'outOfFocus') return measurement;
  problems.set('blankFrame', problem);
  return undefined;
}

function middle(levels: readonly (readonly number[])[]): readonly number[] {
  const channels = levels[0]?.length ?? 0;
  return Array.from({ length: channels }, (_, c) => levels.map((l) => l[c] ?? 0).sort((a, b) => a - b)[levels.length >> 1] ?? 0);
}
