// The accuracy table of the issue "Counting layers": each figure pooled over sets, beside its bar.
import { tableText } from '../acceptance/frameSetScore.mjs';
import { poissonUpper, rateText } from './accuracyBounds.mjs';

const sum = (rows, of) => rows.reduce((n, row) => n + of(row), 0);
const pool = (rows, of) => ({ right: sum(rows, (r) => of(r)?.right ?? 0), wanted: sum(rows, (r) => of(r)?.wanted ?? 0) });

const atLeast = (what, rate, least) => ({ what, figure: rateText(rate), bar: `>= ${100 * least} %`, met: rate.wanted === 0 ? undefined : rate.right >= least * rate.wanted });

const rates = [
  ['one layer >= 50 um2, right number', (r) => r.one, 0.98],
  ['one layer 25 to 50 um2, circle >= 4 um, cells <= 0.7 um', (r) => r.small, 0.9],
  ['two layers >= 50 um2, right number', (r) => r.two, 0.95],
  ['three layers >= 50 um2, right number', (r) => r.three, 0.95],
  ['four layers >= 50 um2, right number', (r) => r.four, 0.95],
  ['hBN thickness within 3 nm (or 8 %), of those measured', (r) => r.thickness?.within, 0.9],
  ['hBN measured', (r) => r.thickness?.measured],
  ['hBN measured or marked too bright', (r) => r.thickness?.either, 0.9],
];

/** A rate without a bar is for information. */
function rateRow(rows, [what, of, least]) {
  const rate = pool(rows, of);
  return least === undefined ? { what, figure: rateText(rate), bar: '', met: undefined } : atLeast(what, rate, least);
}

function falseRows(rows, keptBack) {
  const count = sum(rows, (r) => r.false.count);
  const area = sum(rows, (r) => r.areaCm2);
  const largest = Math.max(0, ...rows.map((r) => r.false.largestUm2));
  const upper = (n, cm2) => `${n} on ${cm2.toFixed(4)} cm2: ${(n / cm2).toFixed(1)}, at most ${(poissonUpper(n) / cm2).toFixed(1)} per cm2`;
  const blank = rows.filter((r) => r.isBlank);
  const blankFalse = sum(blank, (r) => r.blankFalse);
  const duplicates = sum(rows, (r) => r.duplicates);
  return [
    { what: 'false one-layer flags >= 25 um2', figure: upper(count, area), bar: keptBack ? 'at most 4' : '0', met: count <= (keptBack ? 4 : 0) },
    ...(keptBack ? [{ what: 'largest false one-layer flag', figure: `${largest} um2`, bar: '< 400 um2', met: largest < 400 }] : []),
    { what: 'duplicates (1 to 10 layers)', figure: String(duplicates), bar: keptBack ? '' : '0', met: keptBack ? undefined : duplicates === 0 },
    ...(blank.length > 0 ? [{ what: 'sets without thin flakes: false flags of 1 to 10 layers', figure: upper(blankFalse, sum(blank, (r) => r.areaCm2)), bar: '0', met: blankFalse === 0 }] : []),
  ];
}

/** Every figure with its bar; `met` is undefined where there is nothing to count or no bar. */
export function barsOf(rows, keptBack) {
  return [...rates.map((rate) => rateRow(rows, rate)), ...falseRows(rows, keptBack)];
}

const share = (rate) => (!rate || rate.wanted === 0 ? '-' : `${rate.right}/${rate.wanted}`);

/** One line for each set, counts only. */
export function perSetText(rows) {
  const head = ['set', '1L >=50', '1L 25-50', '2L', '3L', '4L', 'false 1L', 'per cm2, at most', 'duplicates', 'blank: false 1-10', 'hBN within', 'measured', 'or too bright'];
  const lines = rows.map((r) => [
    r.set, share(r.one), share(r.small), share(r.two), share(r.three), share(r.four), r.false.count, (poissonUpper(r.false.count) / r.areaCm2).toFixed(0), r.duplicates,
    r.isBlank ? r.blankFalse : '-', share(r.thickness?.within), share(r.thickness?.measured), share(r.thickness?.either),
  ]);
  return tableText(head, lines);
}

export function barsText(bars) {
  const word = (met) => (met === undefined ? '-' : met ? 'met' : 'NOT MET');
  return tableText(['pooled', 'figure', 'bar', ''], bars.map(({ what, figure, bar, met }) => [what, figure, bar, word(met)]));
}
