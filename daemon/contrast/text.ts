import { lastExactLayer, type ContrastReport } from '../../planner/optics/index.ts';
import { tableText } from '../cli/words.ts';
import { bestFilterWords, bestOxideLines, measurementWords, percent, subjectWords, warningSentences } from './words.ts';

type RungOf = ContrastReport['ladder'][number];

function cellsOf(rung: RungOf): string[] {
  const { range } = rung;
  if (!range) return [String(rung.layers), ...rung.contrast.map(percent), rung.srgb];
  const spans = rung.contrast.map((_, i) => `${percent(range.low[i] ?? 0).replace(' %', '')} to ${percent(range.high[i] ?? 0)}`);
  return [`${rung.layers} (${range.layers[0]} to ${range.layers[1]})`, ...spans, rung.srgb];
}

function ladderTable({ channels, ladder }: ContrastReport): string {
  const head = ['layers', ...channels.map(({ name, meanNm }) => `${name} ${Math.round(meanNm)} nm`), 'colour'];
  return tableText(head, ladder.map(cellsOf), new Set(channels.map((_, i) => i + 1)));
}

/** What `nightjar contrast` says: the ladder, the best oxides, the best filter, and what cannot be told apart. */
export function contrastText(report: ContrastReport): string {
  const warnings = warningSentences(report);
  const above = report.ladder.some(({ range }) => range);
  return [
    subjectWords(report),
    'Contrast is (bare − flake)/bare: positive where the flake is darker.',
    '',
    ladderTable(report),
    ...(above ? [`Above ${lastExactLayer} layers the index of thin films is not known to hold: contrasts are ranges, and in brackets stand the numbers that may look so.`] : []),
    '',
    'Best oxides for one layer in this light:',
    ...bestOxideLines(report),
    bestFilterWords(report),
    measurementWords(report),
    ...(warnings.length === 0 ? ['Neighbouring layer numbers can be told apart in every channel.'] : ['', ...warnings]),
    '',
  ].join('\n');
}
