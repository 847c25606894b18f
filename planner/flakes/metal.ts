import type { Ladder, Rungs } from '../layers/types.ts';
import { isMostly } from './mostly.ts';
import type { Terrace } from './types.ts';

/** Brighter by this factor than the brightest film of the material, at any thickness. */
const BRIGHTER = 1.3;
/** In as many channels: gold is no brighter than graphite in the blue. */
const CHANNELS = 2;

/**
 * Whether most of the area is brighter than any film: a metal mark, a bond pad, a holder. Gold reflects 0.79 to 0.95 of the light from green to red,
 * thick graphite about a third. A place at the camera's full scale is at least as bright as it was measured.
 */
export function isMetal(terraces: readonly Terrace[], ladder: Ladder): boolean {
  const [hypothesis] = ladder.hypotheses;
  if (!hypothesis) return false;
  const brightest = brightestFilm([hypothesis.rungs, hypothesis.thick]);
  const isBright = ({ contrast }: Terrace): boolean =>
    contrast.filter((c, i) => 1 - c > BRIGHTER * (brightest[i] ?? Infinity)).length >= Math.min(CHANNELS, contrast.length);
  return isMostly(terraces, isBright);
}

/** Largest R / R0 of any film, per channel; 1 is bare oxide. */
function brightestFilm(all: readonly Rungs[]): readonly number[] {
  const [first] = all;
  return Array.from({ length: first?.channels ?? 0 }, (_, channel) => all.reduce((most, rungs) => {
    let least = 1 - most;
    for (let at = channel; at < rungs.contrast.length; at += rungs.channels) least = Math.min(least, rungs.contrast[at] as number);
    return 1 - least;
  }, 1));
}
