import { readFile, realpath, stat } from 'node:fs/promises';
import { isAbsolute, relative, resolve, sep } from 'node:path';
import type { Matrix2 } from '../../planner/units/index.ts';
import { DriverError, type CameraFrame } from '../interfaces/index.ts';
import { asStored, type StoredAs } from './asStored.ts';
import { decodeImage } from './decodeImage.ts';
import { flatMatrix, frameSetSchema, type FrameSetFile } from './frameSetSchema.ts';

export const FRAME_SET_FILE = 'frame-set.json';

/** A description of 100,000 frames with long names takes 50 MB; an image of the largest camera, whole and 16 bits deep, takes less than the other. */
const MOST_BYTES = { description: 64e6, image: 1.7e9 } as const;

export interface StoredFrame {
  readonly file: string;
  /** Stage position of the frame's centre as the stage reported it. */
  readonly xUm: number;
  readonly yUm: number;
}

/** A folder of stored frames with all that is needed to read them. */
export interface FrameSet {
  readonly directory: string;
  readonly title: string;
  readonly objective: { readonly magnification: number; readonly numericalAperture: number };
  readonly cameraToStageUm: Matrix2;
  readonly transfer: 'linear' | 'srgb';
  readonly illumination: string;
  readonly material: string;
  /** What the wafer box says. */
  readonly oxideNm: number;
  readonly whiteBalance: 'substrate' | 'mirror' | 'unknown';
  readonly frames: readonly StoredFrame[];
  /** Share of stray light in the level of bare oxide, where somebody measured it; else 0. */
  readonly strayLight: number;
  readonly hasBlank: boolean;
  readonly hasDark: boolean;
  /**
   * The frame with this index. Rejects with `missingFile` or `brokenFile` (details: file, problem), and with RangeError when there
   * is no such index. Sizes are not compared: a frame of another size is handed on as it is.
   */
  readFrame(index: number): Promise<CameraFrame>;
  /** The frame of bare substrate; `undefined` when the set has none. Rejects as readFrame does. */
  readBlank(): Promise<CameraFrame | undefined>;
  /** The frame taken without light; `undefined` when the set has none. Rejects as readFrame does. */
  readDark(): Promise<CameraFrame | undefined>;
}

function isMissing(error: unknown): boolean {
  return error instanceof Error && 'code' in error && (error.code === 'ENOENT' || error.code === 'ENOTDIR');
}

function fileError(file: string, error: unknown): DriverError {
  if (error instanceof DriverError) return error;
  const problem = error instanceof Error ? error.message : String(error);
  return new DriverError(isMissing(error) ? 'missingFile' : 'brokenFile', { file, problem }, { cause: error });
}

/** True when the path lies inside the folder. */
function isInside(directory: string, path: string): boolean {
  const way = relative(directory, path);
  return way !== '' && way !== '..' && !way.startsWith(`..${sep}`) && !isAbsolute(way);
}

/** Reads a file of the set by the name that its JSON gives; neither `..` nor a link leads out of the folder. */
async function readInside(directory: string, file: string, mostBytes: number): Promise<Uint8Array> {
  try {
    const path = resolve(directory, file);
    if (!isInside(directory, path)) throw new Error('the name leads out of the frame set');
    if (!isInside(await realpath(directory), await realpath(path))) throw new Error('the link leads out of the frame set');
    const found = await stat(path);
    // A pipe or a device may never end.
    if (!found.isFile()) throw new Error('it is no file');
    if (found.size > mostBytes) throw new Error(`it has ${found.size} bytes, and ${mostBytes} is the most`);
    return await readFile(path);
  } catch (error) {
    throw fileError(file, error);
  }
}

async function readImage(directory: string, file: string, stored: StoredAs): Promise<CameraFrame> {
  const bytes = await readInside(directory, file, MOST_BYTES.image);
  try {
    return { ...asStored(await decodeImage(bytes), stored), exposureMs: 0, takenAtMs: 0 };
  } catch (error) {
    throw fileError(file, error);
  }
}

async function readDescription(directory: string): Promise<FrameSetFile> {
  const bytes = await readInside(directory, FRAME_SET_FILE, MOST_BYTES.description);
  let json: unknown;
  try {
    json = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch (error) {
    throw fileError(FRAME_SET_FILE, error);
  }
  const parsed = frameSetSchema.safeParse(json);
  if (parsed.success) return parsed.data;
  const issue = parsed.error.issues[0];
  const key = issue?.path.map(String).join('.') ?? '';
  const problem = issue?.message.replace(/^Invalid input: expected (.+), received undefined$/, 'it is missing; $1 wanted');
  throw new DriverError('brokenFile', { file: FRAME_SET_FILE, key, problem: problem ?? 'not a frame set' });
}

function refuseNamesOutside(directory: string, description: FrameSetFile): void {
  const { frames, blankFrame, darkFrame } = description;
  for (const file of [...frames.map((frame) => frame.file), blankFrame, darkFrame]) {
    if (file === undefined || isInside(directory, resolve(directory, file))) continue;
    throw new DriverError('brokenFile', { file: FRAME_SET_FILE, key: 'file', problem: `"${file}" leads out of the frame set` });
  }
}

/**
 * Opens a folder in the frame-set format, version 1. Only the description is read and checked here; images are read one by one, so
 * that one bad image spoils no other. Rejects with `missingFile` or `brokenFile` (details: file, key, problem).
 */
export async function openFrameSet(directory: string): Promise<FrameSet> {
  const folder = resolve(directory);
  const description = await readDescription(folder);
  refuseNamesOutside(folder, description);
  const { title, objective, cameraToStageUm, transfer, illumination, material, oxideNm, whiteBalance, strayLight, frames, blankFrame, darkFrame } = description;
  return {
    directory: folder,
    title: title ?? '',
    objective,
    cameraToStageUm: flatMatrix(cameraToStageUm),
    transfer,
    illumination,
    material,
    oxideNm,
    whiteBalance,
    frames,
    strayLight,
    hasBlank: blankFrame !== undefined,
    hasDark: darkFrame !== undefined,
    async readFrame(index) {
      const frame = frames[index];
      if (!frame) throw new RangeError(`frame ${index} of ${frames.length}`);
      return readImage(folder, frame.file, description);
    },
    readBlank: async () => (blankFrame === undefined ? undefined : readImage(folder, blankFrame, description)),
    readDark: async () => (darkFrame === undefined ? undefined : readImage(folder, darkFrame, description)),
  };
}
