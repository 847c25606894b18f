import { durationText } from '../cli/words.ts';
import type { NightCourse, NightFigures, TellingFlake, Tidings } from './types.ts';

/** The first words of a message, by what it is about. */
export const headings: Readonly<Record<Tidings['kind'], string>> = {
  finished: 'Finished',
  parked: 'Parked',
  failed: 'Failed',
  fault: 'Please look',
  morning: 'Good morning',
  test: 'Test message',
};

/** "412 of 420 tiles, 8 left out; 12 flakes flagged". */
export function figuresText({ tilesDone, tilesPlanned, tilesSkipped, flagged }: NightFigures): string {
  const left = tilesSkipped > 0 ? `, ${tilesSkipped} left out` : '';
  return `${tilesDone} of ${tilesPlanned} tiles${left}; ${flagged} ${flagged === 1 ? 'flake' : 'flakes'} flagged`;
}

/** How the night went, a line each. */
export function courseLines({ forecastS, tookS, waits, skipped, closeUpsDone, closeUpsSkipped }: NightCourse): readonly string[] {
  return [
    `It took ${durationText(tookS)}; ${durationText(forecastS)} were forecast.`,
    ...(waits.length > 0 ? [`It waited: ${waits.map(({ what, seconds }) => `${durationText(seconds)} ${what}`).join(', ')}.`] : []),
    ...skipped.map(({ reason, tiles }) => `${tiles} ${tiles === 1 ? 'tile was' : 'tiles were'} left out: ${reason}.`),
    ...(closeUpsDone + closeUpsSkipped > 0 ? [`${closeUpsDone} ${closeUpsDone === 1 ? 'flake was' : 'flakes were'} looked at again${closeUpsSkipped > 0 ? `, ${closeUpsSkipped} could not be` : ''}.`] : []),
  ];
}

/** "1 layer at 0.97", "12.3 nm (11.4 to 13.1)". */
export function callText({ layersText, probability, layers }: TellingFlake): string {
  return layers === null ? layersText : `${layersText} at ${probability >= 0.995 ? '> 0.99' : probability.toFixed(2)}`;
}

/** What stands under every message: numbers are estimates, and a message stops nothing. */
export const footing = 'Layer numbers are estimates with a probability; check a flake that matters by another method. This message was sent by a program; nobody reads answers to it.';
