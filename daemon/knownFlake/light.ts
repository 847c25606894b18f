import type { OpticalPath } from '../config/resolve.ts';

/** Optical path with all that decides how bright and how coloured its frames are, as one text: equal texts, comparable visits. */
export function lightOf({ name, objective, illuminationNa, filter, polariser, lampIntensity, exposureMs, gainDb }: OpticalPath): string {
  return JSON.stringify([name, objective, illuminationNa, filter, polariser, lampIntensity, exposureMs, gainDb]);
}
