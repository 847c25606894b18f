import { openFrameSet } from '../../drivers/frameset/index.ts';
import type { FrameSet } from '../../drivers/frameset/index.ts';
import { addTile, emptyBook, rereadBook } from '../../planner/flakes/book.ts';
import type { Book, BookContext } from '../../planner/flakes/book.ts';
import { materialIds } from '../../planner/optics/index.ts';
import type { MaterialId } from '../../planner/optics/index.ts';
import { NightjarError } from '../errors/index.ts';
import { noFixedSpots, rejectFixed } from '../vision/fixedSpots.ts';
import { addDarkPlaces } from '../vision/strayLight.ts';
import type { StrayLightBound } from '../vision/strayLight.ts';
import type { FlatField } from '../vision/types.ts';
import { inParallel } from './inParallel.ts';
import { reportOf } from './report.ts';
import type { FrameProblem, FrameSetReport } from './report.ts';
import { darkOf, measureStored, plainOptics, poseOf, sizeOf } from './storedFrames.ts';
import type { Measure, Measured } from './storedFrames.ts';
import { lightOf } from './storedLight.ts';

export type { Measure };

export interface ClassifyOptions {
  /** Layer numbers that are looked for; 1 to 4 when left out. */
  readonly layers?: readonly [number, number];
  /** Thickness that is looked for where it is what is measured (hBN, graphite), nm: instead of layers. */
  readonly thicknessNm?: readonly [number, number];
  /** Smallest useful circle on a terrace, um across; 4 when left out. */
  readonly leastUsableUm?: number;
  /** Frames in memory at a time; 2 when left out. */
  readonly inFlight?: number;
  /** Told after each frame of each pass. */
  readonly onProgress?: (done: number, total: number) => void;
}

/** A classified frame set: what is written, and what a picture of it needs. */
export interface ClassifiedFrameSet {
  readonly set: FrameSet;
  readonly report: FrameSetReport & {
    /** No more stray light than this, as a share of bare oxide's level; left out where nothing dark enough was seen. */
    readonly strayLight?: StrayLightBound;
  };
  readonly book: Book;
  readonly flat?: FlatField;
  /** Usual level of bare oxide, linear, per channel. */
  readonly substrate?: readonly number[];
}

/**
 * Finds and counts the flakes of a stored frame set. Two passes: the flat field first (from the blank frame, else from the frames
 * themselves; with it dust on the sensor and bad samples), then every frame is measured and its detections are merged in the order of the set. A missing, broken or useless image
 * is reported by name and the rest is classified.
 * @param measure does the pixel work; results are taken in order, so how many run at once changes nothing
 * @throws DriverError `missingFile` or `brokenFile` for the set's description; NightjarError `badUsage` for a material without data
 */
export async function classifyFrameSet(directory: string, options: ClassifyOptions, measure: Measure): Promise<ClassifiedFrameSet> {
  const set = await openFrameSet(directory);
  const context = bookContextOf(set, options);
  const problems = new Map<string, FrameProblem>();
  const inFlight = Math.max(1, options.inFlight ?? 2);
  const total = set.frames.length;
  const size = await sizeOf(set);
  const plain = plainOptics(set, size, await darkOf(set, size, problems));
  const light = size && (await lightOf(set, size, plain, problems, inFlight, measure));
  const optics = light?.optics ?? plain;
  let book = emptyBook({ ...context, ...(light ? { bare: light.substrate } : {}) });
  let stray: StrayLightBound | undefined;
  let done = 0;
  const frames = set.frames.map((_, index) => index);
  for await (const [index, found] of inParallel(frames, inFlight, (i) => measureStored(set, i, size, optics, measure))) {
    note(problems, found);
    const pose = poseOf(set, index, found.size);
    if (found.measurement) stray = addDarkPlaces(stray, found.measurement.detections, pose, optics.numericalAperture, optics.flare);
    if (found.measurement) book = addTile(book, index, pose, rejectFixed(light?.fixed ?? noFixedSpots, found.measurement.detections, pose)).book;
    options.onProgress?.(++done, total);
  }
  book = rereadBook(book).book;
  const report = { ...reportOf(set, book, [...problems.values()]), ...(stray ? { strayLight: { ...stray, atMost: stray.atMost.map((f) => Number(f.toFixed(4))) } } : {}) };
  return { set, report, book, ...(light?.flat ? { flat: light.flat } : {}), ...(light ? { substrate: light.substrate } : {}) };
}

function note(problems: Map<string, FrameProblem>, found: Measured): void {
  if (found.problem) problems.set(found.problem.file, found.problem);
}

function bookContextOf(set: FrameSet, options: ClassifyOptions): BookContext {
  const material = materialIds.find((id): id is MaterialId => id === set.material);
  if (!material) throw new NightjarError('badUsage', { reason: `There are no optical data for the material "${set.material}"; there are for ${materialIds.join(', ')}.` });
  const [layersFrom, layersTo] = options.layers ?? [1, 4];
  return {
    chip: 'set',
    material,
    oxideNm: set.oxideNm,
    numericalAperture: set.objective.numericalAperture,
    lamp: lampOf(set.illumination),
    whiteBalance: set.whiteBalance,
    layersFrom,
    layersTo,
    leastUsableUm: options.leastUsableUm ?? 4,
    ...(options.thicknessNm ? { thicknessFromNm: options.thicknessNm[0], thicknessToNm: options.thicknessNm[1] } : {}),
  };
}

/** The lamp that a label names: a word of it is enough. */
export function lampOf(illumination: string): BookContext['lamp'] {
  if (/halogen|tungsten/i.test(illumination)) return 'halogen';
  return /\bled\b/i.test(illumination) ? 'whiteLed' : 'unknown';
}
