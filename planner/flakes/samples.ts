import { fitLadder } from '../layers/ladder.ts';
import type { ContrastSample, LabelledContrast, Ladder, LadderContext } from '../layers/types.ts';
import type { BookContext } from './context.ts';
import type { MeasuredTerrace } from './types.ts';

/** What a ladder is fitted to: plain data, so that the fit can be done in another thread. */
export interface LadderRequest {
  readonly context: LadderContext;
  readonly samples: readonly ContrastSample[];
  readonly labelled: readonly LabelledContrast[];
}

/** Fits what was asked for, here and now: about a second. */
export function fitRequest({ context, samples, labelled }: LadderRequest): Ladder {
  return fitLadder(context, samples, labelled);
}

/** Terraces smaller than this do not shape the ladder, um2. */
const LEAST_UM2 = 12;
/** Nor those more uneven than this. */
const UNEVEN = 1.6;
/** Nor those of which so much is at the camera's full scale. */
const SATURATED = 0.02;
/** Contrasts nearer than this in every channel, as contrast and as a share of it, are the same. */
const ALIKE = 0.015;
const ALIKE_SHARE = 0.03;

/** What `fitLadder` is asked for a chip's flakes, each given by its terraces; those that the frame alone decided to be none are left out before. */
export function requestFor(context: BookContext, channels: number, flakes: readonly (readonly MeasuredTerrace[])[]): LadderRequest {
  return { context: ladderContext(context, channels), samples: samplesFrom(flakes), labelled: context.labelled ?? [] };
}

/**
 * Contrasts that the ladder is fitted to, the largest terraces first; nothing else of a terrace, since they are sent to other threads.
 * Of one flake's terraces of the same contrast only the largest counts: the plateaus of one piece of residue are one witness, not ten.
 */
function samplesFrom(flakes: readonly (readonly MeasuredTerrace[])[]): readonly ContrastSample[] {
  return flakes
    .flatMap((terraces) => {
      const fit = terraces.filter((t) => t.areaUm2 >= LEAST_UM2 && t.unevenness < UNEVEN && t.saturatedShare < SATURATED).sort((a, b) => b.areaUm2 - a.areaUm2);
      return fit.filter((t, i) => fit.slice(0, i).every((larger) => !isAlike(t, larger)));
    })
    .sort((a, b) => b.areaUm2 - a.areaUm2)
    .map(({ contrast, contrastError }) => ({ contrast, contrastError }));
}

function isAlike(a: MeasuredTerrace, b: MeasuredTerrace): boolean {
  return a.contrast.every((c, i) => Math.abs(c - (b.contrast[i] as number)) < ALIKE + ALIKE_SHARE * Math.abs(c));
}

function ladderContext(context: BookContext, channels: number): LadderContext {
  const { material, oxideNm, numericalAperture, lamp, bands, whiteBalance, bare } = context;
  const known = whiteBalance === 'mirror' && bare?.length === channels ? { bare } : {};
  return { material, oxideNm, numericalAperture, lamp, channels: channels === 1 ? 1 : 3, ...(bands ? { bands } : {}), ...known };
}
