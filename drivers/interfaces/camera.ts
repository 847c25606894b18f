/** The first two letters of a colour-filter mosaic name the upper left pixels: RG stands for RG over GB, GR for GR over BG, and so on. */
export type BayerPattern = 'RG' | 'GR' | 'GB' | 'BG';

/** How samples lie in memory; 16 stands for samples of 9 to 16 significant bits in two bytes, the lowest bit first. */
export type PixelFormat = 'mono8' | 'mono16' | 'rgb8' | 'rgb16' | `bayer${BayerPattern}${8 | 16}`;

/** A rectangle of the sensor in pixels of the delivered frame. */
export interface Region {
  readonly colPx: number;
  readonly rowPx: number;
  readonly widthPx: number;
  readonly heightPx: number;
}

export interface CameraSettings {
  readonly exposureMs: number;
  readonly gainDb: number;
  /** The whole sensor when left out. */
  readonly region?: Region;
}

export interface CameraInfo {
  readonly model: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly pixelFormat: PixelFormat;
  /** Significant bits of a sample: 8 to 16. */
  readonly bits: number;
  readonly exposureMinMs: number;
  readonly exposureMaxMs: number;
}

/**
 * One frame as the camera gave it: rows from the top, samples interleaved (RGBRGB...) without padding. `data` belongs to the
 * receiver: the camera never writes into it again.
 */
export interface CameraFrame {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly pixelFormat: PixelFormat;
  readonly bits: number;
  readonly data: Uint8Array | Uint16Array;
  readonly exposureMs: number;
  readonly takenAtMs: number;
}

/** A camera that takes one frame on demand. */
export interface Camera {
  readonly info: CameraInfo;
  /** Sets what is asked and returns what the camera really uses. Rejects with `exposureRange` or `unsupported`. */
  configure(settings: CameraSettings): Promise<CameraSettings>;
  /**
   * A frame whose whole exposure lies after the call. Rejects with `noFrame`, `badFrame`, `disconnected`, `stopped`.
   * @param onExposed called once, as soon as the exposure is over and what is in front of the camera may move, while the frame is still
   * being read out; never when the call rejects before. A camera that cannot tell calls it with the frame in hand.
   */
  snap(signal?: AbortSignal, onExposed?: () => void): Promise<CameraFrame>;
  close(): Promise<void>;
}
