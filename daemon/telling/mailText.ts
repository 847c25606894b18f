import { tableText } from '../cli/words.ts';
import { oneLine } from '../markup.ts';
import { callText, courseLines, figuresText, footing, headings } from './sayings.ts';
import type { TellingFlake, Tidings } from './types.ts';

/** Flakes in the table of a mail; the page shows all. */
export const flakesInTable = 20;

/** The subject line. What comes from a file is put on one line: it can add no header. */
export function subjectOf({ kind, night }: Tidings): string {
  if (!night) return `Nightjar: ${headings[kind]}`;
  const flakes = kind === 'morning' ? `, ${night.flagged} ${night.flagged === 1 ? 'flake' : 'flakes'}` : '';
  return `Nightjar: ${headings[kind]}: ${oneLine(night.title, 80)} (${oneLine(night.instrument, 60)})${flakes}`;
}

/** The mail for readers without HTML: all that the other form says, but the pictures. */
export function mailText(tidings: Tidings): string {
  const { kind, sentence, night, course, flakes, troubles, page } = tidings;
  return [
    `${headings[kind]}${night ? `: ${oneLine(night.title)} on ${oneLine(night.instrument)}` : ''}`,
    oneLine(sentence, 1000),
    ...(night ? [`${figuresText(night)}.`] : []),
    ...(course ? [courseLines(course).map((line) => oneLine(line)).join('\n')] : []),
    ...(flakes.length > 0 ? [flakesText(flakes)] : []),
    ...(troubles.length > 0 ? [`Troubles, the latest last:\n${troubles.map((trouble) => `- ${oneLine(trouble)}`).join('\n')}`] : []),
    ...(page === undefined ? [] : [`The page: ${page}`]),
    `-- \n${footing}`,
  ].join('\n\n');
}

function flakesText(flakes: readonly TellingFlake[]): string {
  const rows = flakes.slice(0, flakesInTable).map((flake, n) => [String(n + 1), callText(flake), flake.usableUm.toFixed(1), oneLine(flake.chip, 60), flake.chipXUm.toFixed(0), flake.chipYUm.toFixed(0), flake.id]);
  const table = tableText(['', 'layers', 'usable µm', 'chip', 'x µm', 'y µm', 'flake'], rows, new Set([0, 2, 4, 5]));
  const why = flakes.slice(0, 6).map((flake, n) => `${n + 1}. ${[...flake.reasons, ...flake.cautions.map((caution) => `but ${caution}`)].join('; ')}`);
  return `${table}\n\nUsable: largest circle on that terrace. x and y: from the chip's own corner, along its first edge.\n\n${why.join('\n')}`;
}
