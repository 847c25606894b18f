// Classifies every frame set of a folder with the built classifier and scores it against its truth.
// usage: node tests/acceptance/frameSets.mjs DIR [--in-process] [--pictures OUT_DIR]
// DIR holds score.py and one folder for each set. Ends with 1 under the bars of the issue "Nightjar runs" (issue A).
import { existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { built, classifySet, openMeasurer, readJson, score, setsOf, tableText } from './frameSetScore.mjs';

/** How much of the one-layer terraces must be right; sets that are not named here must only be free of false flags and duplicates. */
const bars = { 'a-clean-300': 1, 'c-90nm-20x': 1, 'e-mos2-285': 1, 'b-worn-285': 0.8, 'f-large-290': 0.8 };

async function runSet(directory, set, scratch, measure, pictures) {
  const started = process.hrtime.bigint();
  const classified = await classifySet(directory, set, measure);
  const seconds = Number(process.hrtime.bigint() - started) / 1e9;
  const file = join(scratch, `${set}.json`);
  writeFileSync(file, JSON.stringify(classified.report));
  if (pictures) {
    const { drawFrameSet } = await import(built('daemon/classify/mapPicture.js'));
    mkdirSync(pictures, { recursive: true });
    writeFileSync(join(pictures, `${set}.png`), await drawFrameSet(classified));
  }
  const material = readJson(join(directory, set, 'frame-set.json')).material;
  return { set, seconds, frames: classified.report.frames, problems: classified.report.problems, ...scores(directory, set, file, material) };
}

function scores(directory, set, file, material) {
  const truth = join(directory, set, 'truth.json');
  const by = (layers, least) => score(directory, truth, file, '--layers', layers, '--min-um2', least).figures[0];
  const one = by('1', '50');
  const rows = { one, small: by('1', '25'), two: by('2', '50'), three: by('3', '50'), four: by('4', '50'), any: by('1-10', '50') };
  if (material === 'hbn') rows.thickness = score(directory, truth, file, '--thickness', '0.333', '--tol-nm', '3').figures[1];
  return rows;
}

const share = (s) => (s.wanted === 0 ? '-' : `${s.right}/${s.wanted}`);

function failures(row) {
  const found = [];
  const bar = bars[row.set] ?? 0;
  if (row.one.wanted > 0 && row.one.right < bar * row.one.wanted) found.push(`one layer ${share(row.one)}, wanted ${100 * bar} %`);
  if (row.one.false > 0) found.push(`${row.one.false} false one-layer flags`);
  if (row.any.wanted === 0 && row.any.false > 0) found.push(`${row.any.false} false flags of 1 to 10 layers`);
  for (const [name, s] of Object.entries(row)) if (s?.duplicates > 0) found.push(`${s.duplicates} duplicates (${name})`);
  return found;
}

function print(rows) {
  const head = ['set', '1L >=50', '1L >=25', '2L', '3L', '4L', 'false 1L', 'false 1-10', 'duplicates', 'hBN nm', 's', 'frames/s'];
  const lines = rows.map((r) => [
    r.set, share(r.one), share(r.small), share(r.two), share(r.three), share(r.four), r.small.false, r.any.false,
    r.one.duplicates + r.any.duplicates, r.thickness ? `${r.thickness.within}/${r.thickness.measured}/${r.thickness.flakes}` : '-', r.seconds.toFixed(1), (r.frames / r.seconds).toFixed(1),
  ]);
  const pooled = (key) => share({ wanted: rows.reduce((n, r) => n + r[key].wanted, 0), right: rows.reduce((n, r) => n + r[key].right, 0) });
  const sum = (of) => rows.reduce((n, r) => n + of(r), 0);
  lines.push(['all', pooled('one'), pooled('small'), pooled('two'), pooled('three'), pooled('four'), sum((r) => r.small.false), sum((r) => r.any.false), sum((r) => r.one.duplicates + r.any.duplicates), '', sum((r) => r.seconds).toFixed(1), (sum((r) => r.frames) / sum((r) => r.seconds)).toFixed(1)]);
  console.log(tableText(head, lines));
  console.log('right/wanted at 50 um2 unless said otherwise; false 1L at 25 um2; hBN: within 3 nm/measured/flakes; s includes decoding and the flat field');
}

const directory = resolve(process.argv[2] ?? '');
if (!process.argv[2] || !existsSync(join(directory, 'score.py'))) {
  console.error('usage: node tests/acceptance/frameSets.mjs DIR [--in-process] [--pictures OUT_DIR]; DIR holds score.py and the sets');
  process.exit(2);
}
const pictures = process.argv.includes('--pictures') ? process.argv[process.argv.indexOf('--pictures') + 1] : undefined;
const scratch = mkdtempSync(join(tmpdir(), 'nightjar-sets-'));
const { measure, close } = await openMeasurer(process.argv.includes('--in-process'));
try {
  const rows = [];
  for (const set of setsOf(directory)) rows.push(await runSet(directory, set, scratch, measure, pictures));
  print(rows);
  const bad = rows.flatMap((row) => failures(row).map((f) => `${row.set}: ${f}`));
  for (const row of rows) for (const p of row.problems) console.log(`${row.set}: ${p.file}: ${p.code}`);
  for (const line of bad) console.error(line);
  process.exitCode = bad.length > 0 ? 1 : 0;
} finally {
  await close();
  rmSync(scratch, { recursive: true });
}
