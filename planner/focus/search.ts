import { fitFocusPeak, LEAST_SAMPLES } from './peak.ts';
import type { FocusPeak, FocusSample, PeakRefusal } from './peak.ts';

/** Where to search. Heights in um of the focus drive, growing away from the chip. */
export interface SearchRequest {
  /** Where focus is expected. */
  readonly centreUm: number;
  /** Searched above and below the centre. */
  readonly rangeUm: number;
  readonly depthOfFieldUm: number;
  /** How far below a height the drive comes from where it would arrive from above: more than its play. One depth of field when left out. */
  readonly takeUpUm?: number;
  /** The drive is never sent beyond these. */
  readonly zMinUm: number;
  readonly zMaxUm: number;
}

export type SearchRefusal =
  | PeakRefusal
  /** Nothing of the range lies within the limits. */
  | { readonly code: 'noReachableZ'; readonly zMinUm: number; readonly zMaxUm: number }
  /** A peak is there, but its place is not known well enough to be used. */
  | { readonly code: 'uncertainPeak'; readonly errorUm: number; readonly allowedUm: number };

export type SearchOutcome = { readonly ok: true; readonly peak: FocusPeak } | { readonly ok: false; readonly refusal: SearchRefusal };

/** A focus search between two exposures. Plain data: nothing in it refers to a device. */
export interface SearchState {
  readonly request: SearchRequest;
  readonly phase: 'coarse' | 'fine' | 'done';
  /** Heights still to be exposed at in this sweep, rising. */
  readonly ahead: readonly number[];
  /** True before the first exposure of a sweep: the drive then comes from above and must run up from below. */
  readonly sweepBegins: boolean;
  readonly samples: readonly FocusSample[];
  readonly outcome?: SearchOutcome;
}

/** Most exposures of the coarse sweep; a range that is too wide for it gets wider steps. */
const MAX_COARSE = 48;
/** Fewest exposures of the coarse sweep, so that the foot of the peak is seen as well. */
const MIN_COARSE = 8;
/** Exposures of the fine sweep: over one depth of field to both sides of the coarse peak. */
const FINE = 7;
/** A range that steps of half a depth of field cover with so many exposures is swept once: coarse and fine sweep would take more. */
const MAX_SINGLE = 15;
/** Most exposures that any search takes. */
export const MAX_EXPOSURES = MAX_COARSE + FINE;

/**
 * Exposures of the first sweep over a span, and of the second one about its peak. A short span is swept once, in steps of half a depth of
 * field (at least {@link LEAST_SAMPLES}, which a fit needs); a longer one first in steps of one depth of field. The limits of the drive
 * may cut a span shorter than asked.
 */
export function sweepExposures(spanUm: number, depthOfFieldUm: number): { readonly first: number; readonly second: number } {
  const single = Math.max(LEAST_SAMPLES, stepsOver(spanUm, depthOfFieldUm / 2) + 1);
  if (single <= MAX_SINGLE) return { first: single, second: 0 };
  return { first: Math.min(MAX_COARSE, Math.max(MIN_COARSE, stepsOver(spanUm, depthOfFieldUm) + 1)), second: FINE };
}

/** Steps of at most this length; a rounding error makes no step more. */
function stepsOver(spanUm: number, stepUm: number): number {
  return Math.ceil(spanUm / stepUm - 1e-9);
}

/**
 * Begins a search from coarse to fine: a rising sweep over the range in steps of about one depth of field, then a rising sweep of
 * {@link FINE} steps around the best; a range of few depths of field is swept once in half steps (see {@link sweepExposures}). Ask {@link nextZUm}, expose there, hand the sharpness to {@link addSample}, until `phase` is `done`.
 * Every height is approached from below (see {@link runUpZUm}), and no height lies beyond the limits.
 */
export function beginSearch(request: SearchRequest): SearchState {
  const lowUm = Math.max(request.zMinUm, request.centreUm - request.rangeUm);
  const highUm = Math.min(request.zMaxUm, request.centreUm + request.rangeUm);
  const begun = { request, samples: [], ahead: [], sweepBegins: true };
  if (!(highUm > lowUm) || !(request.depthOfFieldUm > 0)) {
    return { ...begun, phase: 'done', outcome: { ok: false, refusal: { code: 'noReachableZ', zMinUm: request.zMinUm, zMaxUm: request.zMaxUm } } };
  }
  const { first, second } = sweepExposures(highUm - lowUm, request.depthOfFieldUm);
  return { ...begun, phase: second > 0 ? 'coarse' : 'fine', ahead: evenly(lowUm, highUm, first) };
}

function evenly(lowUm: number, highUm: number, count: number): readonly number[] {
  return Array.from({ length: count }, (_, i) => (i === count - 1 ? highUm : lowUm + ((highUm - lowUm) * i) / (count - 1)));
}

/** Where to expose next; `undefined` once the search is done. */
export function nextZUm(state: SearchState): number | undefined {
  return state.ahead[0];
}

/**
 * Where to send the drive before {@link nextZUm} so that this is reached from below, as all others are; `undefined` when the drive
 * comes from below anyway. Also for the way to the peak itself: go to {@link belowUm} of it first.
 */
export function runUpZUm(state: SearchState): number | undefined {
  const next = nextZUm(state);
  return next !== undefined && state.sweepBegins ? belowUm(state.request, next) : undefined;
}

/** A height from which the drive's play is taken up on the way to this one, but never under the lower limit. */
export function belowUm(request: SearchRequest, zUm: number): number {
  return Math.max(request.zMinUm, zUm - (request.takeUpUm ?? request.depthOfFieldUm));
}

/**
 * Takes in one exposure.
 * @param zUm where the drive really stood, as it reported
 * @param sharpness any measure that is largest in focus; not a number counts as no sharpness at all
 */
export function addSample(state: SearchState, zUm: number, sharpness: number): SearchState {
  if (state.phase === 'done') return state;
  const samples = [...state.samples, { zUm, sharpness: Number.isFinite(sharpness) ? sharpness : 0 }];
  const swept = { ...state, samples, ahead: state.ahead.slice(1), sweepBegins: false };
  if (swept.ahead.length > 0) return swept;
  return state.phase === 'coarse' ? coarseDone(swept) : fineDone(swept);
}

/** The peak of the coarse sweep tells where to look closely; a flat one is looked at too, since a narrow peak may lie between two steps. */
function coarseDone(state: SearchState): SearchState {
  const { request, samples } = state;
  const coarse = fitFocusPeak(samples, request.depthOfFieldUm / 4);
  if (!coarse.ok && coarse.refusal.code === 'peakAtEnd') return finished(state, coarse);
  const aroundUm = coarse.ok ? coarse.peak.zUm : sharpestOf(samples).zUm;
  const reachUm = Math.max(request.depthOfFieldUm, coarseStepUm(samples) / 2);
  const lowUm = Math.max(request.zMinUm, aroundUm - reachUm);
  const highUm = Math.min(request.zMaxUm, aroundUm + reachUm);
  return { ...state, phase: 'fine', ahead: evenly(lowUm, highUm, FINE), sweepBegins: true };
}

function fineDone(state: SearchState): SearchState {
  const { depthOfFieldUm } = state.request;
  const all = fitFocusPeak(state.samples, depthOfFieldUm / 4);
  if (!all.ok) return finished(state, all);
  // The far foot decides whether there is a peak; where it lies is read from what is near, so that the bell's exact shape matters less.
  const nearUm = Math.max(3 * depthOfFieldUm, 2.5 * coarseStepUm(state.samples));
  const near = fitFocusPeak(state.samples.filter((s) => Math.abs(s.zUm - all.peak.zUm) <= nearUm), depthOfFieldUm / 4);
  const peak = near.ok && near.peak.errorUm < all.peak.errorUm ? near.peak : all.peak;
  const allowedUm = depthOfFieldUm / 2;
  if (!(peak.errorUm <= allowedUm)) return finished(state, { ok: false, refusal: { code: 'uncertainPeak', errorUm: peak.errorUm, allowedUm } });
  return finished(state, { ok: true, peak });
}

function finished(state: SearchState, outcome: SearchOutcome): SearchState {
  return { ...state, phase: 'done', ahead: [], outcome };
}

function sharpestOf(samples: readonly FocusSample[]): FocusSample {
  return samples.reduce((best, s) => (s.sharpness > best.sharpness ? s : best), samples[0] ?? { zUm: 0, sharpness: 0 });
}

/** Step of the coarse sweep, from its first two exposures. */
function coarseStepUm(samples: readonly FocusSample[]): number {
  const [first, second] = samples;
  return first && second ? Math.abs(second.zUm - first.zUm) : 0;
}
