import type { FrameSet } from '../../drivers/frameset/index.ts';
import { DriverError } from '../../drivers/interfaces/index.ts';
import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { FramePose } from '../../planner/units/index.ts';
import { readDark } from '../vision/darkFrame.ts';
import type { DarkReading } from '../vision/darkFrame.ts';
import type { FrameMeasurement, FrameToMeasure, OpticalContext } from '../vision/types.ts';
import type { FrameProblem } from './report.ts';

/** Measures one frame, in this thread or in a worker's. */
export type Measure = (input: FrameToMeasure) => Promise<FrameMeasurement>;

/** What all frames of a set must be like. */
export interface Size {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: number;
}

/** What became of one frame of a set. */
export interface Measured {
  readonly size: Size;
  readonly measurement?: FrameMeasurement;
  readonly problem?: FrameProblem;
}

/** The size of the first frame that can be read: that of the set. */
export async function sizeOf(set: FrameSet): Promise<Size | undefined> {
  for (let i = 0; i < set.frames.length; i++) {
    const frame = await readOr(set.frames[i]?.file ?? '', () => set.readFrame(i));
    if ('pixelFormat' in frame) return { widthPx: frame.widthPx, heightPx: frame.heightPx, channels: channelsOf(frame) };
  }
  return undefined;
}

function channelsOf(frame: CameraFrame): number {
  return frame.pixelFormat === 'mono8' || frame.pixelFormat === 'mono16' ? 1 : 3;
}

/** An image, or what is wrong with its file. */
export async function readOr(file: string, read: () => Promise<CameraFrame | undefined>): Promise<CameraFrame | FrameProblem> {
  try {
    const frame = await read();
    if (!frame) throw new DriverError('missingFile', { file });
    return frame;
  } catch (error) {
    if (!(error instanceof DriverError)) throw error;
    return { file, code: error.code, ...(typeof error.details['problem'] === 'string' ? { detail: error.details['problem'] } : {}) };
  }
}

/** The set's dark frame; undefined when it has none that can be used. */
export async function darkOf(set: FrameSet, size: Size | undefined, problems: Map<string, FrameProblem>): Promise<DarkReading | undefined> {
  if (!set.hasDark) return undefined;
  const frame = await readOr('darkFrame', () => set.readDark());
  const problem = 'pixelFormat' in frame ? sizeProblem('darkFrame', frame, size) : frame;
  if (problem) problems.set('darkFrame', problem);
  return problem || !('pixelFormat' in frame) ? undefined : readDark([frame], set.transfer);
}

function sizeProblem(file: string, frame: CameraFrame, size: Size | undefined): FrameProblem | undefined {
  if (!size) return undefined;
  if (channelsOf(frame) !== size.channels) return { file, code: 'wrongSize', detail: 'another number of channels than the rest of the set' };
  return frame.widthPx === size.widthPx && frame.heightPx === size.heightPx ? undefined : { file, code: 'wrongSize' };
}

/** How a frame of the set lies on the stage. */
export function poseOf(set: FrameSet, index: number, size: Size): FramePose {
  const frame = set.frames[index] ?? { xUm: 0, yUm: 0 };
  return { centreUm: { xUm: frame.xUm, yUm: frame.yUm }, cameraToStageUm: set.cameraToStageUm, widthPx: size.widthPx, heightPx: size.heightPx };
}

/** Reads and measures one frame of the set. */
export async function measureStored(set: FrameSet, index: number, size: Size | undefined, optics: OpticalContext, measure: Measure): Promise<Measured> {
  const file = set.frames[index]?.file ?? '';
  return measureImage(file, () => set.readFrame(index), poseOf(set, index, size ?? NO_SIZE), size ?? NO_SIZE, optics, measure);
}

const NO_SIZE: Size = { widthPx: 0, heightPx: 0, channels: 3 };

/** Reads and measures one image of a set. */
export async function measureImage(
  file: string, read: () => Promise<CameraFrame | undefined>, pose: FramePose, size: Size, optics: OpticalContext, measure: Measure,
): Promise<Measured> {
  const frame = await readOr(file, read);
  if (!('pixelFormat' in frame)) return { size, problem: frame };
  const problem = sizeProblem(file, frame, size);
  if (problem) return { size, problem };
  const measurement = await measure({ frame, pose, optics });
  return { size, measurement, ...(measurement.fault ? { problem: { file, code: measurement.fault } } : {}) };
}

/** What frames are read with when nothing is known but the set's description and its dark frame. */
export function plainOptics(set: FrameSet, size: Size | undefined, dark: DarkReading | undefined): OpticalContext {
  const none = Array.from({ length: size?.channels ?? 3 }, () => 0);
  return {
    transfer: set.transfer,
    numericalAperture: set.objective.numericalAperture,
    dark: dark?.perSample ?? none,
    flare: none.map(() => set.strayLight),
    ...(dark && dark.hot.length > 0 ? { masked: dark.hot } : {}),
  };
}
