import type { CameraFrame, CameraInfo, CameraSettings } from '../interfaces/index.ts';
import type { Problem } from './problems.ts';

/** The library under the name that Debian's package libaravis-0.8-0 gives it. */
export const LIBRARY = 'libaravis-0.8.so.0';

/** Which camera: by serial number (or device id, vendor-model-serial), by network address, or, left empty, the first that answers. */
export type CameraChoice = { readonly serial: string } | { readonly address: string } | Readonly<Record<string, never>>;

/** `software`: one trigger, one frame. `freeRun`: for cameras without a software trigger. */
export type Triggering = 'software' | 'freeRun';

/** What the worker needs to open a camera and to set it up again after a loss; every value is filled in. */
export interface OpenOptions {
  readonly library: string;
  readonly camera: CameraChoice;
  /** A name of the standard's list, e.g. `BayerRG12`; undefined: the first of ours that is offered. */
  readonly pixelFormat: string | undefined;
  readonly binning: number;
  readonly packetSize: 'auto' | number;
  readonly triggering: Triggering;
  /** Beyond exposure: readout, transfer and the camera's own pauses. */
  readonly patienceMs: number;
  /** Frames asked for anew when one arrives spoilt. */
  readonly retries: number;
  /** All rows expose at once: the first packet of a frame then says that its exposure is over. undefined: ask the camera. */
  readonly globalShutter: boolean | undefined;
  /** In free run: whole frames passed over, beyond those that cannot be new, for what a camera holds in its own memory. */
  readonly freeRunSkip: number;
}

/** One camera as discovery tells of it. */
export interface FoundCamera {
  readonly id: string;
  readonly vendor: string;
  readonly model: string;
  readonly serial: string;
  readonly address: string;
  readonly protocol: string;
}

/** What is known of an open camera beyond `CameraInfo`. */
export interface CameraFacts {
  readonly info: CameraInfo;
  readonly vendor: string;
  readonly serial: string;
  readonly pixelFormatName: string;
  readonly triggering: Triggering;
  readonly globalShutter: boolean;
  /** 0 where frames do not come in network packets. */
  readonly packetSizeBytes: number;
  /** What was switched off, or was off already. */
  readonly forcedOff: readonly string[];
}

/** Counted since the camera was first opened. */
export interface CameraCounters {
  readonly frames: number;
  readonly retries: number;
  readonly missingPackets: number;
  readonly resentPackets: number;
  readonly timeouts: number;
  readonly reopenings: number;
  /** The camera's own number of the last good frame; where it begins and ends is the camera's affair. */
  readonly lastFrameId: number;
}

export const NO_COUNTS: CameraCounters = { frames: 0, retries: 0, missingPackets: 0, resentPackets: 0, timeouts: 0, reopenings: 0, lastFrameId: 0 };

export type Task =
  | { readonly kind: 'open'; readonly options: OpenOptions }
  | { readonly kind: 'configure'; readonly settings: CameraSettings }
  | { readonly kind: 'snap' }
  | { readonly kind: 'close' }
  | { readonly kind: 'list'; readonly library: string };

export type Outcome =
  | { readonly kind: 'opened'; readonly facts: CameraFacts }
  | { readonly kind: 'configured'; readonly settings: CameraSettings }
  | { readonly kind: 'frame'; readonly frame: CameraFrame }
  | { readonly kind: 'closed' }
  | { readonly kind: 'list'; readonly cameras: readonly FoundCamera[] };

export interface Request {
  readonly id: number;
  readonly task: Task;
}

/** `exposed` comes before the frame, at most once, where the worker can tell; each request ends with one of the two others. */
export type Reply = { readonly id: number } & (
  | { readonly exposed: true }
  | { readonly outcome: Outcome; readonly counters: CameraCounters }
  | { readonly problem: Problem; readonly counters: CameraCounters }
);
