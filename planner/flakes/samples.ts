import type { ContrastSample, LabelledContrast, LadderContext } from '../layers/types.ts';
import type { BookContext } from './context.ts';
import type { MeasuredTerrace } from './types.ts';

/** What a ladder is fitted to: plain data, so that the fit can be done in another thread. */
export interface LadderRequest {
  readonly context: LadderContext;
  readonly samples: readonly ContrastSample[];
  readonly labelled: readonly LabelledContrast[];
}

/** Terraces smaller than this do not shape the ladder, um2. */
const LEAST_UM2 = 12;
/** Nor those more uneven than this. */
const UNEVEN = 1.6;
/** Nor those of which so much is at the camera's full scale. */
const SATURATED = 0.02;

/** What `fitLadder` is asked for the terraces of a chip's flakes, those that the frame alone decided to be none left out. */
export function requestFor(context: BookContext, channels: number, terraces: readonly MeasuredTerrace[]): LadderRequest {
  return { context: ladderContext(context, channels), samples: samplesFrom(terraces), labelled: context.labelled ?? [] };
}

/** Contrasts that the ladder is fitted to, the largest terraces first; nothing else of a terrace, since they are sent to other threads. */
function samplesFrom(terraces: readonly MeasuredTerrace[]): readonly ContrastSample[] {
  return terraces
    .filter((t) => t.areaUm2 >= LEAST_UM2 && t.unevenness < UNEVEN && t.saturatedShare < SATURATED)
    .sort((a, b) => b.areaUm2 - a.areaUm2)
    .map(({ contrast, contrastError }) => ({ contrast, contrastError }));
}

function ladderContext(context: BookContext, channels: number): LadderContext {
  const { material, oxideNm, numericalAperture, lamp, bands } = context;
  return { material, oxideNm, numericalAperture, lamp, channels: channels === 1 ? 1 : 3, ...(bands ? { bands } : {}) };
}
