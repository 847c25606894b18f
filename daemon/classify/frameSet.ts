import { openFrameSet } from '../../drivers/frameset/index.ts';
import type { FrameSet } from '../../drivers/frameset/index.ts';
import { DriverError } from '../../drivers/interfaces/index.ts';
import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { addTile, emptyBook, rereadBook } from '../../planner/flakes/book.ts';
import type { Book, BookContext } from '../../planner/flakes/book.ts';
import { materialIds } from '../../planner/optics/index.ts';
import type { MaterialId } from '../../planner/optics/index.ts';
import type { FramePose } from '../../planner/units/index.ts';
import { NightjarError } from '../errors/index.ts';
import { darkLevels } from '../vision/darkLevels.ts';
import { addSightings, noFixedSpots, rejectFixed } from '../vision/fixedSpots.ts';
import type { FixedSpots } from '../vision/fixedSpots.ts';
import { addToFlatField, emptyFlatField, flatFieldFromBlank, flatFieldOf } from '../vision/flatField.ts';
import type { FlatField, FrameMeasurement, FrameToMeasure, OpticalContext } from '../vision/types.ts';
import { inParallel } from './inParallel.ts';
import { reportOf } from './report.ts';
import type { FrameProblem, FrameSetReport } from './report.ts';

/** Measures one frame, in this thread or in a worker's. */
export type Measure = (input: FrameToMeasure) => Promise<FrameMeasurement>;

export interface ClassifyOptions {
  /** Layer numbers that are looked for; 1 to 4 when left out. */
  readonly layers?: readonly [number, number];
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
  readonly report: FrameSetReport;
  readonly book: Book;
  readonly flat?: FlatField;
  /** Usual level of bare oxide, linear, per channel. */
  readonly substrate?: readonly number[];
}

/** More frames than this teach the flat field nothing more. */
const FLAT_FRAMES = 31;

/**
 * Finds and counts the flakes of a stored frame set. Two passes: the flat field first (from the blank frame, else from the frames
 * themselves), then every frame is measured and its detections are merged in the order of the set. A missing, broken or useless image
 * is reported by name and the rest is classified.
 * @param measure does the pixel work; results are taken in order, so how many run at once changes nothing
 * @throws DriverError `missingFile` or `brokenFile` for the set's description; NightjarError `badUsage` for a material without data
 */
export async function classifyFrameSet(directory: string, options: ClassifyOptions, measure: Measure): Promise<ClassifiedFrameSet> {
  const set = await openFrameSet(directory);
  const context = bookContextOf(set, options);
  const problems = new Map<string, FrameProblem>();
  const inFlight = Math.max(1, options.inFlight ?? 2);
  const dark = await darkOf(set, problems);
  const total = set.frames.length;
  const size = await sizeOf(set);
  const plain: OpticalContext = { transfer: set.transfer, numericalAperture: set.objective.numericalAperture, dark, flare: dark.map(() => 0) };
  const flat = size && (await flatOf(set, size, plain, problems, inFlight, measure));
  const optics = flat?.flat ? { ...plain, flat: flat.flat, substrate: flat.substrate } : plain;
  let book = emptyBook(context);
  let done = 0;
  const frames = set.frames.map((_, index) => index);
  for await (const [index, found] of inParallel(frames, inFlight, (i) => measureStored(set, i, size, optics, measure))) {
    note(problems, found);
    const pose = poseOf(set, index, found.size);
    if (found.measurement) book = addTile(book, index, pose, rejectFixed(flat?.fixed ?? noFixedSpots, found.measurement.detections, pose)).book;
    options.onProgress?.(++done, total);
  }
  book = rereadBook(book).book;
  return { set, report: reportOf(set, book, [...problems.values()]), book, ...(flat?.flat ? { flat: flat.flat } : {}), ...(flat ? { substrate: flat.substrate } : {}) };
}

interface Size {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: number;
}

interface Measured {
  readonly size: Size;
  readonly measurement?: FrameMeasurement;
  readonly problem?: FrameProblem;
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
  };
}

/** The lamp that a label names: a word of it is enough. */
export function lampOf(illumination: string): BookContext['lamp'] {
  if (/halogen|tungsten/i.test(illumination)) return 'halogen';
  return /\bled\b/i.test(illumination) ? 'whiteLed' : 'unknown';
}

/** The size of the first frame that can be read: that of the set. */
async function sizeOf(set: FrameSet): Promise<Size | undefined> {
  for (let i = 0; i < set.frames.length; i++) {
    const frame = await readOr(set.frames[i]?.file ?? '', () => set.readFrame(i));
    if ('pixelFormat' in frame) return { widthPx: frame.widthPx, heightPx: frame.heightPx, channels: channelsOf(frame) };
  }
  return undefined;
}

function channelsOf(frame: CameraFrame): number {
  return frame.pixelFormat === 'mono8' || frame.pixelFormat === 'mono16' ? 1 : 3;
}

async function readOr(file: string, read: () => Promise<CameraFrame>): Promise<CameraFrame | FrameProblem> {
  try {
    return await read();
  } catch (error) {
    if (!(error instanceof DriverError)) throw error;
    return { file, code: error.code, ...(typeof error.details['problem'] === 'string' ? { detail: error.details['problem'] } : {}) };
  }
}

async function darkOf(set: FrameSet, problems: Map<string, FrameProblem>): Promise<readonly number[]> {
  const none = [0, 0, 0];
  if (!set.hasDark) return none;
  const frame = await readOr('darkFrame', async () => {
    const dark = await set.readDark();
    if (!dark) throw new DriverError('missingFile', { file: 'darkFrame' });
    return dark;
  });
  if ('pixelFormat' in frame) return darkLevels(frame, set.transfer);
  problems.set('darkFrame', frame);
  return none;
}

function poseOf(set: FrameSet, index: number, size: Size): FramePose {
  const frame = set.frames[index] ?? { xUm: 0, yUm: 0 };
  return { centreUm: { xUm: frame.xUm, yUm: frame.yUm }, cameraToStageUm: set.cameraToStageUm, widthPx: size.widthPx, heightPx: size.heightPx };
}

async function measureStored(set: FrameSet, index: number, size: Size | undefined, optics: OpticalContext, measure: Measure): Promise<Measured> {
  const file = set.frames[index]?.file ?? '';
  const frame = await readOr(file, () => set.readFrame(index));
  const known = size ?? { widthPx: 0, heightPx: 0, channels: 3 };
  if (!('pixelFormat' in frame)) return { size: known, problem: frame };
  if (channelsOf(frame) !== known.channels) return { size: known, problem: { file, code: 'wrongSize', detail: 'another number of channels than the rest of the set' } };
  const channels = Math.min(optics.dark.length, known.channels);
  const fitted = { ...optics, dark: Array.from(optics.dark).slice(0, channels), flare: optics.flare.slice(0, channels) };
  const measurement = await measure({ frame, pose: poseOf(set, index, known), optics: fitted });
  return { size: known, measurement, ...(measurement.fault ? { problem: { file, code: measurement.fault } } : {}) };
}

/** The flat field and the usual level of bare oxide; from the blank frame where there is one. */
async function flatOf(
  set: FrameSet, size: Size, optics: OpticalContext, problems: Map<string, FrameProblem>, inFlight: number, measure: Measure,
): Promise<{ readonly flat?: FlatField; readonly substrate: readonly number[]; readonly fixed: FixedSpots }> {
  const blank = await blankOf(set, size, optics, problems, measure);
  if (blank) return { flat: flatFieldFromBlank(blank.coarse), substrate: blank.substrate, fixed: noFixedSpots };
  const every = Math.max(1, set.frames.length / FLAT_FRAMES);
  const chosen = Array.from({ length: Math.min(FLAT_FRAMES, set.frames.length) }, (_, i) => Math.floor(i * every));
  let state = emptyFlatField;
  const levels: (readonly number[])[] = [];
  let fixed = noFixedSpots;
  for await (const [index, found] of inParallel(chosen, inFlight, (i) => measureStored(set, i, size, optics, measure))) {
    if (!found.measurement || found.measurement.fault) continue;
    state = addToFlatField(state, found.measurement.coarse);
    levels.push(found.measurement.substrate);
    fixed = addSightings(fixed, found.measurement.detections, poseOf(set, index, size));
  }
  const flat = flatFieldOf(state);
  return { ...(flat ? { flat } : {}), substrate: middle(levels), fixed };
}

async function blankOf(set: FrameSet, size: Size, optics: OpticalContext, problems: Map<string, FrameProblem>, measure: Measure): Promise<FrameMeasurement | undefined> {
  if (!set.hasBlank) return undefined;
  const frame = await readOr('blankFrame', async () => {
    const blank = await set.readBlank();
    if (!blank) throw new DriverError('missingFile', { file: 'blankFrame' });
    return blank;
  });
  if (!('pixelFormat' in frame)) {
    problems.set('blankFrame', frame);
    return undefined;
  }
  const channels = Math.min(optics.dark.length, size.channels);
  const fitted = { ...optics, dark: Array.from(optics.dark).slice(0, channels), flare: optics.flare.slice(0, channels) };
  const measurement = await measure({ frame, pose: poseOf(set, 0, size), optics: fitted });
  if (!measurement.fault) return measurement;
  problems.set('blankFrame', { file: 'blankFrame', code: measurement.fault });
  return undefined;
}

function middle(levels: readonly (readonly number[])[]): readonly number[] {
  const channels = levels[0]?.length ?? 0;
  return Array.from({ length: channels }, (_, c) => levels.map((l) => l[c] ?? 0).sort((a, b) => a - b)[levels.length >> 1] ?? 0);
}
