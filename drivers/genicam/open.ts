import type { Clock } from '../interfaces/index.ts';
import { CameraWorker } from './cameraWorker.ts';
import { GenicamCamera } from './genicamCamera.ts';
import { LIBRARY, type CameraChoice, type OpenOptions, type Triggering } from './messages.ts';

/** How to open a GenICam camera; all but the clock may be left out. */
export interface GenicamOptions {
  /** The computer's own time: the camera's thread has no other. */
  readonly clock: Clock;
  /** By serial number (or device id, vendor-model-serial) or by network address; the first that answers when left out. */
  readonly camera?: CameraChoice;
  /** A name out of `wireFormats`; the first of them that the camera offers when left out. */
  readonly pixelFormat?: string;
  /** So many pixels by so many read as one; 1 when left out. */
  readonly binning?: number;
  /** Bytes of a network packet, or `auto` (the default): the largest that arrives, which the camera and the network find out together. */
  readonly packetSize?: 'auto' | number;
  /** `software` when left out. */
  readonly triggering?: Triggering;
  /** How long a frame may take beyond its exposure; 2,000 ms when left out. */
  readonly patienceMs?: number;
  /** How often a spoilt frame is asked for anew; 2 when left out. */
  readonly retries?: number;
  /** Whether all rows expose at once, so that the stage may move while the frame is sent; asked of the camera when left out. */
  readonly globalShutter?: boolean;
  /** Free run only: frames passed over beyond those that cannot be new; 2 when left out. */
  readonly freeRunSkip?: number;
  /** The library's file, where it goes by another name. */
  readonly library?: string;
}

function completed(options: GenicamOptions): OpenOptions {
  return {
    library: options.library ?? LIBRARY,
    camera: options.camera ?? {},
    pixelFormat: options.pixelFormat,
    binning: options.binning ?? 1,
    packetSize: options.packetSize ?? 'auto',
    triggering: options.triggering ?? 'software',
    patienceMs: options.patienceMs ?? 2000,
    retries: options.retries ?? 2,
    globalShutter: options.globalShutter,
    freeRunSkip: options.freeRunSkip ?? 2,
  };
}

/**
 * Opens a camera that speaks GenICam (GigE Vision, USB3 Vision) through the Debian library libaravis-0.8-0, in a thread of its own.
 * Exposure is checked against the camera's bounds; gain is in dB where the camera's own is (`Gain`), else in its raw steps (`GainRaw`).
 * Rejects with `libraryMissing`, `noSuchCamera`, `cameraBusy`, `formatNotOffered`, `notForcedOff`, `unsupported`, `disconnected`, `deviceError`.
 */
export async function openGenicamCamera(options: GenicamOptions): Promise<GenicamCamera> {
  return GenicamCamera.open({ clock: options.clock, options: completed(options), startWorker: () => new CameraWorker(options.clock) });
}
