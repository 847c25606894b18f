/** Why a calibration gives no result. Typed, with numbers; the sentences are the daemon's. */
export type CalibrationRefusal =
  /** Too few pictures could be matched: nothing to see there, or out of focus. */
  | { readonly code: 'tooLittleTexture'; readonly matched: number; readonly of: number; readonly least: number }
  /** Focus was not found with an objective. */
  | { readonly code: 'noFocus'; readonly objective: string; readonly centreUm: number; readonly rangeUm: number }
  /** What was measured does not lie on one straight law: the rest is too large. */
  | { readonly code: 'badFit'; readonly restUm: number; readonly allowedUm: number }
  /** The result is less certain than it is needed: `error` and `allowed` in per cent, degrees or um. */
  | { readonly code: 'tooUncertain'; readonly what: string; readonly error: number; readonly allowed: number; readonly unit: string }
  /** The picture moves by quite another amount than its objective's magnification says. */
  | { readonly code: 'otherScale'; readonly factor: number; readonly objective: string }
  /** The picture moved in another direction, or by another amount, than the matrix in the file says: it is not this camera's. */
  | { readonly code: 'otherMatrix'; readonly movedUm: readonly [number, number]; readonly shownUm: readonly [number, number] }
  /** No lines at equal distances. */
  | { readonly code: 'noLines'; readonly score: number; readonly least: number }
  /** What the stronger objective shows was not found in the picture of the weaker one. */
  | { readonly code: 'notFoundAgain'; readonly withinUm: number; readonly objective: string };
