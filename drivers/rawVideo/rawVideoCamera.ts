import { cropFrame, samplesPerPixel } from '../frames/cropFrame.ts';
import { checkFixedSettings } from '../frames/fixedSettings.ts';
import { DriverError, type Camera, type CameraFrame, type CameraInfo, type CameraSettings, type Clock, type Region } from '../interfaces/index.ts';
import { FrameSource } from './frameSource.ts';

/** What a raw-video pipe is told about the command, since nothing in its bytes says it. */
export interface RawVideoOptions {
  /** Program and arguments, one by one; no shell reads them. It writes raw frames, one after the other, to its standard output. */
  readonly command: readonly string[];
  readonly widthPx: number;
  readonly heightPx: number;
  readonly pixelFormat: 'mono8' | 'rgb8';
  /** What the camera is set to elsewhere: it is believed. */
  readonly exposureMs: number;
  /** From one frame to the next. */
  readonly frameMs: number;
  /**
   * Frames let go by after each call. Two when left out: the first was being sent when the call came, the second may have been begun to be
   * exposed before it. A program or a camera that holds frames back for itself needs as many more.
   */
  readonly discardFrames?: number;
}

const DISCARD_FRAMES = 2;
/** A frame may be late by so many times what it should take; and a busy computer by so much. */
const LATE = 5;
const BUSY_MS = 2000;

/** A camera behind a command: see {@link openRawVideoCamera}. */
class RawVideoCamera implements Camera {
  readonly info: CameraInfo;
  readonly #options: RawVideoOptions;
  readonly #clock: Clock;
  readonly #source: FrameSource;
  readonly #discardFrames: number;
  #region: Region | undefined;
  #isClosed = false;

  constructor(options: RawVideoOptions, clock: Clock) {
    const { command, widthPx, heightPx, pixelFormat, exposureMs, frameMs, discardFrames = DISCARD_FRAMES } = options;
    this.#options = options;
    this.#clock = clock;
    this.#discardFrames = discardFrames;
    const model = `raw video from ${command[0] ?? 'no command'}: no control of exposure, no status of frames, no proof that one is new`;
    this.info = { model, widthPx, heightPx, pixelFormat, bits: 8, exposureMinMs: exposureMs, exposureMaxMs: exposureMs };
    const frameBytes = widthPx * heightPx * samplesPerPixel(pixelFormat);
    const patienceMs = BUSY_MS + LATE * ((discardFrames + 1) * frameMs + exposureMs);
    this.#source = new FrameSource({ command, frameBytes, patienceMs, clock });
  }

  async configure(settings: CameraSettings): Promise<CameraSettings> {
    this.#refuseIfClosed();
    checkFixedSettings(this.info, settings);
    // Who waits for the camera's return asks it by this: only a frame shows that it is back.
    await this.#source.revive();
    this.#region = settings.region;
    return settings;
  }

  async snap(signal?: AbortSignal, onExposed?: () => void): Promise<CameraFrame> {
    this.#refuseIfClosed();
    if (signal?.aborted) throw new DriverError('stopped', { device: 'camera' });
    const { widthPx, heightPx, pixelFormat, exposureMs } = this.#options;
    const region = this.#region;
    const data = await this.#source.next({ exposureMs, discardFrames: this.#discardFrames }, signal);
    const takenAtMs = this.#clock.now() - exposureMs;
    onExposed?.();
    const frame: CameraFrame = { widthPx, heightPx, pixelFormat, bits: 8, data, exposureMs, takenAtMs };
    return region ? cropFrame(frame, region) : frame;
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    await this.#source.close();
  }

  /** Waits for the first frame: a command that does not work is found out before anything moves. */
  async firstFrame(): Promise<void> {
    await this.#source.revive();
  }

  #refuseIfClosed(): void {
    if (this.#isClosed) throw new DriverError('closed', { device: 'camera' });
  }
}

/**
 * Opens a camera that only a command can read (`ffmpeg -f rawvideo`, GStreamer): USB video cameras above all. Second best, and it says so in
 * its `model`: the exposure is set elsewhere and only believed, automatics are switched off elsewhere or not at all, a frame has no status,
 * its size and format are taken at the instrument file's word (another size shows as a slanting, running picture), and nothing proves
 * that a frame is from after a move: it is only likely, by the frames let go by. The picture is read all the time, wanted or not, since
 * what a slow reader leaves in the pipe is old when he comes for it. `takenAtMs` is a frame's arrival less the exposure.
 *
 * Rejects with `pipeEnded` (exit code, last words of the command) when the command ends or cannot be started, `noFrame` when it gives no
 * whole frame. Afterwards a command that has ended is started again at the next call, after a pause that grows to 8 s while it gives nothing.
 */
export async function openRawVideoCamera(options: RawVideoOptions, clock: Clock): Promise<Camera> {
  const camera = new RawVideoCamera(options, clock);
  try {
    await camera.firstFrame();
    return camera;
  } catch (error) {
    await camera.close();
    throw error;
  }
}
