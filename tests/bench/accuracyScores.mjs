// Scores one classified frame set for every row of the accuracy table.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { readJson, score } from '../acceptance/frameSetScore.mjs';
import { onlyWide, pixelUm } from './accuracyTruth.mjs';

/** "Measured cells <= 0.7 um", with room for the rounding of the set's matrix. */
const LARGEST_CELL_UM = 0.7005;
const LEAST_CIRCLE_UM = 4;

const rate = ({ right, wanted }) => ({ right, wanted });
const minus = (a, b) => ({ right: a.right - b.right, wanted: a.wanted - b.wanted });
const isFalse = (note) => note.startsWith('false');

/** Area in um2 that score.py's `-v` gives for a false flag. */
const areaOf = (note) => Number(/'um2': ([\d.]+)/.exec(note)?.[1] ?? NaN);

/** Middle of the corners, as score.py matches thickness by. */
function middleOf(corners) {
  const sum = corners.reduce(([x, y], p) => [x + p[0], y + p[1]], [0, 0]);
  return [sum[0] / corners.length, sum[1] / corners.length];
}

/** How many true flakes are measured or marked too bright, by score.py's rule for which flag belongs to which flake. */
function measuredOrBright(truth, report, leastUm2) {
  const flags = report.flakes.flatMap((f) => f.terraces).map((t) => ({ at: middleOf(t.outlineUm), measured: t.thicknessNm !== undefined, bright: t.tooBright === true }));
  const rejects = report.rejected.filter((r) => r.reason === 'tooBright').map((r) => ({ at: middleOf(r.outlineUm), measured: false, bright: true }));
  const largest = truth.flakes.map((f) => f.terraces.reduce((a, b) => (b.areaUm2 > a.areaUm2 ? b : a))).filter((t) => t.areaUm2 >= leastUm2);
  let [measured, either] = [0, 0];
  for (const t of largest) {
    const [x, y] = middleOf(t.outlineUm);
    const hits = [...flags, ...rejects].filter(({ at }) => Math.hypot(at[0] - x, at[1] - y) < 0.35 * Math.sqrt(t.areaUm2));
    if (hits.some((h) => h.measured)) measured++;
    if (hits.some((h) => h.measured || h.bright)) either++;
  }
  return { measured, either };
}

function thicknessOf(directory, truthFile, file, truth, report) {
  const { flakes, measured, within, medianErrorNm } = score(directory, truthFile, file, '--thickness', '0.333', '--tol-nm', '3').figures[1];
  const own = measuredOrBright(truth, report, 50);
  if (own.measured !== measured) throw new Error(`score.py finds ${measured} measured flakes, this bench ${own.measured}: their rules differ`);
  return { within: { right: within, wanted: measured }, measured: { right: measured, wanted: flakes }, either: { right: own.either, wanted: flakes }, medianErrorNm };
}

/** One-layer terraces of 25 to 50 um2 that a circle of 4 um fits on: what counts from 25 um2 on without what counts from 50 on. */
function smallOf(directory, scratch, set, truth, file) {
  const wide = join(scratch, `${set}-wide.json`);
  writeFileSync(wide, JSON.stringify(onlyWide(truth, LEAST_CIRCLE_UM)));
  const from25 = score(directory, wide, file, '--min-um2', '25', '-v');
  const from50 = score(directory, wide, file, '--min-um2', '50', '-v');
  const notes = from25.notes.filter((n) => n.startsWith('missed') && !from50.notes.includes(n));
  return { rate: minus(from25.figures[0], from50.figures[0]), notes };
}

/**
 * All figures of one set.
 * @param report what the classifier handed back; written to the scratch folder for score.py
 */
export function scoreSet(directory, set, report, scratch) {
  const truthFile = join(directory, set, 'truth.json');
  const file = join(scratch, `${set}.json`);
  writeFileSync(file, JSON.stringify(report));
  const truth = readJson(truthFile);
  const { material } = readJson(join(directory, set, 'frame-set.json'));
  const layered = material !== 'hbn';
  const by = (layers, least) => score(directory, truthFile, file, '--layers', layers, '--min-um2', least, '-v');
  const missed = [];
  const rateOf = (layers) => {
    const { figures, notes } = by(layers, '50');
    missed.push(...notes.filter((n) => n.startsWith('missed')));
    return layered ? rate(figures[0]) : { right: 0, wanted: 0 };
  };
  const rates = { one: rateOf('1'), two: rateOf('2'), three: rateOf('3'), four: rateOf('4') };
  const small = layered && pixelUm(join(directory, set, 'frame-set.json')) <= LARGEST_CELL_UM ? smallOf(directory, scratch, set, truth, file) : { rate: { right: 0, wanted: 0 }, notes: [] };
  const falseOne = by('1', '25');
  const counted = by('1-10', '50');
  const isBlank = truth.flakes.every((f) => f.terraces.every((t) => t.layers < 1 || t.layers > 10));
  return {
    set, layered, isBlank, areaCm2: truth.areaCm2, ...rates, small: small.rate,
    false: { count: falseOne.figures[0].false, largestUm2: Math.max(0, ...falseOne.notes.filter(isFalse).map(areaOf)) },
    duplicates: counted.figures[0].duplicates,
    blankFalse: isBlank ? counted.figures[0].false : 0,
    thickness: layered ? undefined : thicknessOf(directory, truthFile, file, truth, report),
    notes: [...missed, ...small.notes, ...falseOne.notes.filter(isFalse), ...counted.notes.filter((n) => n.startsWith('duplicate') || (isBlank && isFalse(n)))],
  };
}
