/**
 * How far focus has moved since the surface was measured, and how fast it moves: a Kalman filter with the two states offset and rate,
 * whose rate wanders (Kalman 1960; constant-velocity model, from memory). Plain data; times in hours inside, ms outside.
 */
export interface DriftState {
  readonly atMs: number;
  readonly offsetUm: number;
  readonly rateUmPerH: number;
  /** Variances and covariance of the two. */
  readonly offsetVariance: number;
  readonly rateVariance: number;
  readonly covariance: number;
}

/** What the stand may drift before anything is measured, as a standard deviation: a warm-up of 5 um with a time constant of 1 h, and 2 um/h. */
const UNKNOWN_RATE_UM_PER_H = 7;
/** How fast a rate changes, as the standard deviation after one hour: at the start of that warm-up by 5 um/h in an hour. */
const RATE_WANDERS_UM_PER_H = 3;
/** A check this many standard errors off is a step, and no drift. */
const STEP_SIGMAS = 5;
const HOUR_MS = 3_600_000;
/** A height that is reached again is this far off at most, as a share of the depth of field: what a check can tell at best. */
export const CHECK_ERROR_SHARE = 0.02;
/** Focus is measured again before the drift's error (two standard errors) passes this share of the depth of field. */
const DRIFT_SHARE = 0.15;
/** Checks are at least this far apart, whatever their error: they must not eat the night. */
const LEAST_APART_MS = 60_000;
/** And at most this far: a rate may change for reasons that no model knows. */
const MOST_APART_MS = 30 * 60_000;

/** Standard error that the drift may have before focus is measured again, in um. */
export function driftAllowedUm(depthOfFieldUm: number): number {
  return (DRIFT_SHARE * depthOfFieldUm) / 2;
}

/** A stand of which nothing is known, with a surface just measured. */
export function beginDrift(nowMs: number, errorUm: number): DriftState {
  return { atMs: nowMs, offsetUm: 0, rateUmPerH: 0, offsetVariance: errorUm ** 2, rateVariance: UNKNOWN_RATE_UM_PER_H ** 2, covariance: 0 };
}

/** A new surface was measured: the offset begins again at 0; the rate is the stand's own and stays known. */
export function afterMapping(state: DriftState, nowMs: number, errorUm: number): DriftState {
  return { ...predictDrift(state, nowMs), offsetUm: 0, offsetVariance: errorUm ** 2, covariance: 0 };
}

/** The state carried forward to a later time. */
export function predictDrift(state: DriftState, nowMs: number): DriftState {
  const h = Math.max(0, nowMs - state.atMs) / HOUR_MS;
  const wander = RATE_WANDERS_UM_PER_H ** 2;
  return {
    atMs: Math.max(nowMs, state.atMs),
    offsetUm: state.offsetUm + state.rateUmPerH * h,
    rateUmPerH: state.rateUmPerH,
    offsetVariance: state.offsetVariance + 2 * h * state.covariance + h * h * state.rateVariance + (wander * h ** 3) / 3,
    covariance: state.covariance + h * state.rateVariance + (wander * h * h) / 2,
    rateVariance: state.rateVariance + wander * h,
  };
}

/** One standard error of the offset. */
export function driftErrorUm(state: DriftState): number {
  return Math.sqrt(state.offsetVariance);
}

/**
 * Takes in how far focus was found from the surface. What is too far off to be drift is a step: the offset follows it at once, and the
 * rate stays as it was.
 * @param harmlessUm deviations up to this are no step, however well the drift is known
 */
export function addDriftCheck(before: DriftState, check: { readonly atMs: number; readonly offsetUm: number; readonly errorUm: number }, harmlessUm: number): { readonly state: DriftState; readonly stepUm: number | undefined } {
  const state = predictDrift(before, check.atMs);
  const awayUm = check.offsetUm - state.offsetUm;
  const variance = state.offsetVariance + check.errorUm ** 2;
  if (Math.abs(awayUm) > Math.max(harmlessUm, STEP_SIGMAS * Math.sqrt(variance))) {
    return { state: { ...state, offsetUm: check.offsetUm, offsetVariance: check.errorUm ** 2, covariance: 0 }, stepUm: awayUm };
  }
  const offsetGain = state.offsetVariance / variance;
  const rateGain = state.covariance / variance;
  return {
    state: {
      ...state,
      offsetUm: state.offsetUm + offsetGain * awayUm,
      rateUmPerH: state.rateUmPerH + rateGain * awayUm,
      offsetVariance: (1 - offsetGain) * state.offsetVariance,
      rateVariance: state.rateVariance - rateGain * state.covariance,
      covariance: (1 - offsetGain) * state.covariance,
    },
    stepUm: undefined,
  };
}

/** When focus is to be measured again, ms: before its error passes what is allowed (see {@link driftAllowedUm}), within bounds from the last time. */
export function checkDueMs(state: DriftState, depthOfFieldUm: number): number {
  const allowedUm = driftAllowedUm(depthOfFieldUm);
  let lowMs = LEAST_APART_MS;
  let highMs = MOST_APART_MS;
  const isFine = (afterMs: number): boolean => driftErrorUm(predictDrift(state, state.atMs + afterMs)) <= allowedUm;
  if (!isFine(lowMs)) return state.atMs + lowMs;
  if (isFine(highMs)) return state.atMs + highMs;
  // The error only grows: halved until a second is left.
  while (highMs - lowMs > 1000) {
    const middleMs = (lowMs + highMs) / 2;
    if (isFine(middleMs)) lowMs = middleMs;
    else highMs = middleMs;
  }
  return state.atMs + lowMs;
}

/**
 * How many checks the schedule takes while one surface is used: what the forecast counts. The schedule follows from the errors alone, so
 * that it is known before; a step, or a stand that drifts in jumps, takes more.
 * @param before the stand as known when the surface was measured; one of which nothing is known when left out
 */
export function plannedChecks(durationMs: number, depthOfFieldUm: number, errorUm: number, before = beginDrift(0, errorUm)): { readonly checks: number; readonly state: DriftState } {
  let state = afterMapping(before, before.atMs, errorUm);
  const endMs = state.atMs + durationMs;
  let checks = 0;
  for (let dueMs = checkDueMs(state, depthOfFieldUm); dueMs < endMs; dueMs = checkDueMs(state, depthOfFieldUm)) {
    const { offsetUm } = predictDrift(state, dueMs);
    ({ state } = addDriftCheck(state, { atMs: dueMs, offsetUm, errorUm }, Infinity));
    checks += 1;
  }
  return { checks, state: predictDrift(state, endMs) };
}
