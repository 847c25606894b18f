import { bayerPattern } from '../../drivers/frames/bayer.ts';
import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import type { Detection } from '../../planner/flakes/types.ts';
import { pixelToStage, stageToPixel, type FramePose, type StagePoint } from '../../planner/units/index.ts';
import { toDisplayRgb8, type Picture } from '../records/display.ts';
import { binFor, encodeCrop, encodeMapPicture, encodePictureCrop, regionWithin } from '../records/images.ts';
import { measureFrame } from '../vision/measureFrame.ts';
import { poseOfSamples } from '../vision/samples.ts';
import type { FrameMeasurement, FrameToMeasure, OpticalContext } from '../vision/types.ts';
import type { DetectionPicture, FrameJob, FrameJobResult } from './job.ts';

/** Everything that is done to the pixels of one frame: measured, and where wanted its pictures made. Keeps nothing. */
export async function runFrameJob(job: FrameJob): Promise<FrameJobResult> {
  const { frame, pose, optics } = job.input;
  const measurement = measureFrame(job.input);
  if (!job.pictures) return { measurement, detectionPictures: [] };
  const mapPicture = await mapPictureOf(frame, optics, measurement, job.pictures.mapWidthPx);
  const pictures = { mapPicture, ...(job.pictures.rawFrame ? await rawFrames(job.input) : {}) };
  if (measurement.detections.length === 0) return { measurement, ...pictures, detectionPictures: [] };
  const shown = shownFrame(frame, toDisplayRgb8(frame, displayOptions(optics, measurement)), pose);
  const detectionPictures: DetectionPicture[] = [];
  for (const [index, detection] of measurement.detections.entries()) detectionPictures.push(await pictureOf(index, detection, shown, job.pictures.cropRimUm));
  return { measurement, ...pictures, detectionPictures };
}

/** Whole frames as the camera gave them. */
async function rawFrames({ frame, short }: FrameToMeasure): Promise<Pick<FrameJobResult, 'rawFrame' | 'rawShortFrame'>> {
  const whole = ({ widthPx, heightPx }: CameraFrame) => ({ colPx: 0, rowPx: 0, widthPx, heightPx });
  return { rawFrame: await encodeCrop(frame, whole(frame)), ...(short ? { rawShortFrame: await encodeCrop(short, whole(short)) } : {}) };
}

function displayOptions(optics: OpticalContext, measurement: FrameMeasurement) {
  return { transfer: optics.transfer, ...(optics.flat ? { flat: optics.flat } : {}), ...(measurement.fault ? {} : { substrate: measurement.substrate }) };
}

async function mapPictureOf(frame: CameraFrame, optics: OpticalContext, measurement: FrameMeasurement, widthPx: number): Promise<Uint8Array> {
  const small = toDisplayRgb8(frame, { ...displayOptions(optics, measurement), binPx: binFor(frame.widthPx, widthPx) });
  return encodeMapPicture(small.rgb, small.widthPx, small.heightPx, widthPx);
}

/** A frame with its picture for people, and how the picture's pixels lie: those of a mosaic are whole cells. */
interface ShownFrame {
  readonly frame: CameraFrame;
  readonly display: Picture;
  readonly pose: FramePose;
  /** Pixels of the camera along one side of the picture's. */
  readonly binning: 1 | 2;
}

function shownFrame(frame: CameraFrame, display: Picture, pose: FramePose): ShownFrame {
  const binning = bayerPattern(frame.pixelFormat) ? 2 : 1;
  return { frame, display, pose: poseOfSamples(pose, { widthPx: display.widthPx, heightPx: display.heightPx, binning }), binning };
}

/** Both pictures of a detection: a mosaic is cut between cells, so that the raw one begins with the same filter as the frame. */
async function pictureOf(index: number, detection: Detection, { frame, display, pose, binning }: ShownFrame, rimUm: number): Promise<DetectionPicture> {
  const region = regionWithin(around(detection.outlineUm, pose, rimUm), display.widthPx, display.heightPx);
  const { colPx, rowPx, widthPx, heightPx } = region;
  const rawRegion = { colPx: colPx * binning, rowPx: rowPx * binning, widthPx: widthPx * binning, heightPx: heightPx * binning };
  return {
    detection: index,
    ...(detection.reject === undefined ? { png: await encodePictureCrop(display, region) } : {}),
    rawPng: await encodeCrop(frame, rawRegion),
    widthPx,
    heightPx,
    centreUm: pixelToStage(pose, { colPx: colPx + widthPx / 2, rowPx: rowPx + heightPx / 2 }),
    cameraToStageUm: pose.cameraToStageUm,
  };
}

/** The box of an outline in pixels, with a rim. */
function around(outlineUm: readonly StagePoint[], pose: FramePose, rimUm: number) {
  const places = outlineUm.map((p) => stageToPixel(pose, p));
  const rimPx = rimUm / Math.hypot(pose.cameraToStageUm[0], pose.cameraToStageUm[2]);
  const colPx = Math.min(...places.map((p) => p.colPx)) - rimPx;
  const rowPx = Math.min(...places.map((p) => p.rowPx)) - rimPx;
  return { colPx, rowPx, widthPx: Math.max(...places.map((p) => p.colPx)) + rimPx - colPx, heightPx: Math.max(...places.map((p) => p.rowPx)) + rimPx - rowPx };
}
