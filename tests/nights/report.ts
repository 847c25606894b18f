import { drawingOf, problemsOf } from './invariants.ts';
import { isSure } from './flakeRules.ts';
import { NightPlayer } from './playNight.ts';

const player = new NightPlayer();

/** Plays a seed's night and says what is to be said of it, as plain data. */
export async function reportOf(seed: number, developers: string) {
  const story = await player.play(seed);
  const { script, variation, attempts, planned, tiles, flakes, twinFlakes, fingerprint } = story;
  return {
    seed,
    variation,
    strikes: script.strikes,
    attempts: attempts.map(({ end, cause, lastedS, struck, events }) => ({ end, cause, lastedS, struck, events })),
    tiles: tiles.length,
    planned: planned.length,
    skipped: tiles.filter(({ outcome }) => outcome === 'skipped').length,
    flakes: flakes.length,
    sure: twinFlakes[0]?.filter(isSure).length ?? 0,
    fingerprint,
    problems: problemsOf(story, drawingOf(developers)),
  };
}
