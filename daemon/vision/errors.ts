/** Why a frame or a setting cannot be measured at all: a wrong call, not a bad picture (those are frame faults). */
export type VisionErrorCode = 'unsupportedFormat' | 'wrongLength' | 'wrongDark' | 'wrongFlat' | 'wrongFlare';

/** Thrown by the pixel passes; look at `code`, never at the text. */
export class VisionError extends Error {
  readonly code: VisionErrorCode;
  readonly details: Readonly<Record<string, number | string>>;

  constructor(code: VisionErrorCode, details: Readonly<Record<string, number | string>> = {}) {
    super(`${code} ${JSON.stringify(details)}`);
    this.name = 'VisionError';
    this.code = code;
    this.details = details;
  }
}
