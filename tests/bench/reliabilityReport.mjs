// Puts the judged sets of the reliability bench into tables and a list of failures.
import { tableText } from '../acceptance/frameSetScore.mjs';
import { poissonUpper, rateText } from './accuracyBounds.mjs';

const BINS = [[0, 0.5], [0.5, 0.7], [0.7, 0.9], [0.9, 0.97], [0.97, 1.0001]];
export const SURE = 0.9;
export const LEAST_RIGHT = 0.9;

const rateOf = (calls) => ({ right: calls.filter((c) => c.right).length, wanted: calls.length });
const callsOf = (judged) => judged.flatMap((j) => j.calls);

/** Calls at p >= 0.9: all of 1 to 10 layers, and those of 1 to 4. */
export function sureRates(judged) {
  const sure = callsOf(judged).filter((c) => c.probability >= SURE);
  return { all: rateOf(sure), thin: rateOf(sure.filter((c) => c.called <= 4)) };
}

export function binsText(judged) {
  const calls = callsOf(judged);
  const line = ([low, high]) => {
    const within = calls.filter((c) => c.probability >= low && c.probability < high);
    const mean = within.reduce((sum, c) => sum + c.probability, 0) / Math.max(1, within.length);
    return [`${low} to ${Math.min(1, high)}`, within.length > 0 ? mean.toFixed(3) : '-', rateText(rateOf(within)), rateText(rateOf(within.filter((c) => c.called <= 4)))];
  };
  const { all, thin } = sureRates(judged);
  return tableText(['probability', 'mean', 'right, 1 to 10 layers', 'right, 1 to 4 layers'], [...BINS.map(line), [`>= ${SURE}`, '', rateText(all), rateText(thin)]]);
}

/** Thin flags where there is no thin flake, with the area that they were looked for on. */
export function falseText(judged) {
  const row = (name, sets) => {
    const flags = callsOf(sets).filter((c) => c.isFalse);
    const cm2 = sets.reduce((sum, j) => sum + j.set.areaCm2, 0);
    const sized = (least) => flags.filter((c) => c.terrace.areaUm2 >= least).length;
    return [name, cm2.toFixed(3), flags.length, sized(50), flags.filter((c) => c.called === 1).length, cm2 > 0 ? (flags.length / cm2).toFixed(0) : '-', cm2 > 0 ? (poissonUpper(flags.length) / cm2).toFixed(0) : '-'];
  };
  const dirty = judged.filter((j) => j.set.kind.dirty);
  const lines = [row('dirty', dirty), row('dirty, thick flakes only', dirty.filter((j) => j.set.kind.onlyThick)), row('clean', judged.filter((j) => !j.set.kind.dirty))];
  return tableText(['false flags of 1 to 4 layers', 'cm2', '>= 25 um2', '>= 50 um2', 'as 1 layer', 'per cm2', 'at most'], lines);
}

export function perSetText(judged) {
  const share = (list) => (list.length === 0 ? '-' : `${list.filter((x) => x.right).length}/${list.length}`);
  const lines = judged.map(({ set, calls, wanted, ladder }) => [
    set.name, set.seed, set.camera, set.lamp, set.whiteBalance, set.oxideNm.toFixed(1), ladder ? `${ladder.oxideNm.toFixed(1)} (${ladder.terraces})` : '-',
    ...[1, 2, 3, 4].map((n) => share(wanted.filter((w) => w.layers === n))), share(calls.filter((c) => c.probability >= SURE)), calls.filter((c) => c.isFalse).length,
  ]);
  return tableText(['set', 'seed', 'camera', 'lamp', 'white balance', 'oxide nm', 'fitted (terraces)', '1L', '2L', '3L', '4L', 'sure calls right', 'false'], lines);
}

const list = (values, digits = 3) => values.map((v) => v.toFixed(digits)).join(' ');
const place = ([x, y]) => `${x.toFixed(1)}, ${y.toFixed(1)}`;

function callLine({ set }, c) {
  const { terrace: t } = c;
  return [
    set.name, place(c.at), t.areaUm2.toFixed(0), c.called, c.probability.toFixed(3), c.trueLayers, c.under, list(t.contrast), list(t.contrastError), list(set.contrastOf(c.called)),
    c.trueLayers > 0 ? list(set.contrastOf(c.trueLayers)) : '-', t.call.misfit.toFixed(2), t.edgeWidthRatio.toFixed(2), t.unevenness.toFixed(2), t.inscribedUm.toFixed(1), t.saturatedShare.toFixed(2),
  ];
}

function missedLine({ set }, w) {
  const measured = w.by ? [list(w.by.contrast), w.by.areaUm2.toFixed(0), w.by.call.misfit.toFixed(2), w.by.edgeWidthRatio.toFixed(2), w.by.unevenness.toFixed(2)] : ['-', '-', '-', '-', '-'];
  return [set.name, place(w.at), w.areaUm2.toFixed(0), w.layers, w.stack, w.taken, w.under, list(set.contrastOf(w.layers)), ...measured];
}

const markdown = (head, rows) => [`| ${head.join(' | ')} |`, `|${head.map(() => '---').join('|')}|`, ...rows.map((r) => `| ${r.join(' | ')} |`)].join('\n');

const CALL_HEAD = ['set', 'at um', 'um2', 'called', 'p', 'truly', 'what lies there', 'contrast', 'its error', 'contrast of the called number', 'of the true number', 'misfit', 'edge ratio', 'unevenness', 'circle um', 'saturated'];
const MISSED_HEAD = ['set', 'flake at um', 'um2', 'layers', "the flake's terraces", 'taken for', 'what lies there', 'true contrast', 'contrast of what covers most of it', 'its um2', 'misfit', 'edge ratio', 'unevenness'];

/** Everything that went wrong, for whoever mends it; the largest first. */
export function failuresText(judged) {
  const all = judged.flatMap((j) => j.calls.map((c) => ({ j, c })));
  const bySize = (a, b) => b.c.terrace.areaUm2 - a.c.terrace.areaUm2;
  const falseFlags = all.filter(({ c }) => c.isFalse).sort(bySize);
  const sureWrong = all.filter(({ c }) => !c.isFalse && !c.right && c.probability >= SURE).sort(bySize);
  const unsureWrong = all.filter(({ c }) => !c.isFalse && !c.right && c.probability < SURE && c.called <= 4).sort(bySize);
  const missed = judged.flatMap((j) => j.wanted.filter((w) => !w.right).map((w) => missedLine(j, w)));
  const causes = new Map();
  for (const { c } of falseFlags) causes.set(c.cause, (causes.get(c.cause) ?? 0) + 1);
  const lines = (some) => markdown(CALL_HEAD, some.map(({ j, c }) => callLine(j, c)));
  return [
    '# Failures on simulated sets',
    'Places in stage um; contrast in red, green, blue; the number before the set\'s name is what `--from` takes.',
    `## False flags of 1 to 4 layers (${falseFlags.length})`,
    `By what lies there: ${[...causes].sort((a, b) => b[1] - a[1]).map(([k, n]) => `${k} ${n}`).join(', ') || 'none'}.`,
    lines(falseFlags),
    `## Wrong numbers at p >= ${SURE} on true flakes (${sureWrong.length})`, lines(sureWrong),
    `## Wrong numbers at p < ${SURE}, called 1 to 4 (${unsureWrong.length})`, lines(unsureWrong),
    `## True terraces of 1 to 4 layers >= 50 um2 without the right number (${missed.length})`,
    markdown(MISSED_HEAD, missed),
    '## Sets', '```', perSetText(judged), '```', '',
  ].join('\n\n');
}
