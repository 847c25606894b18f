import type { LadderRequest } from '../../planner/flakes/samples.ts';
import type { Ladder } from '../../planner/layers/types.ts';
import type { Matrix2, StagePoint } from '../../planner/units/index.ts';
import type { FrameMeasurement, FrameToMeasure } from '../vision/types.ts';

/** What a classifier worker is asked to do with one frame. */
export interface FrameJob {
  /** The tile, or the number of a stored frame: names the frame when a worker fails on it. */
  readonly tile: number;
  readonly input: FrameToMeasure;
  /** Left out when only the measurement is wanted (stored frame sets). */
  readonly pictures?: { readonly mapWidthPx: number; readonly cropRimUm: number; readonly rawFrame: boolean };
}

/** The lossless pictures of one detection, ready to be written. */
export interface DetectionPicture {
  /** Index in the measurement's detections. */
  readonly detection: number;
  /** For people: sRGB, flat field taken out. Not made where the frame alone says that this is no flake. */
  readonly png?: Uint8Array;
  /** The record: the camera's own numbers. */
  readonly rawPng: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly centreUm: StagePoint;
  readonly cameraToStageUm: Matrix2;
}

export interface FrameJobResult {
  readonly measurement: FrameMeasurement;
  readonly mapPicture?: Uint8Array;
  /** The whole frame as the camera gave it, where it is to be kept. */
  readonly rawFrame?: Uint8Array;
  /** The same of the shorter exposure, where there was one. */
  readonly rawShortFrame?: Uint8Array;
  readonly detectionPictures: readonly DetectionPicture[];
}

/** What a worker can be asked: to measure a frame, or to fit a chip's contrast ladder, which takes as long as some frames. */
export type WorkerJob = { readonly kind: 'frame'; readonly job: FrameJob } | { readonly kind: 'ladder'; readonly request: LadderRequest };
export type WorkerResult = { readonly kind: 'frame'; readonly result: FrameJobResult } | { readonly kind: 'ladder'; readonly ladder: Ladder };

export type WorkerRequest = { readonly id: number; readonly job: WorkerJob };
export type WorkerReply = { readonly id: number } & ({ readonly ok: true; readonly result: WorkerResult } | { readonly ok: false; readonly message: string });
