// How well the built classifier counts layers: every frame set of a folder against its truth, and all of them together.
// usage: node tests/bench/accuracy.mjs DIR [--kept-back] [--in-process]
// DIR holds score.py and the sets. --kept-back: the bars for sets that nobody could tune to (at most 4 false flags, none of 400 um2).
// Rates with their 95 % Wilson interval, counts with their one-sided 95 % Poisson bound. Ends with 1 when a bar is not met.
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { classifySet, openMeasurer, setsOf } from '../acceptance/frameSetScore.mjs';
import { scoreSet } from './accuracyScores.mjs';
import { barsOf, barsText, perSetText } from './accuracyTable.mjs';

const flags = process.argv.slice(2).filter((a) => a.startsWith('--'));
const [folder] = process.argv.slice(2).filter((a) => !a.startsWith('--'));
const unknown = flags.filter((f) => f !== '--kept-back' && f !== '--in-process');
if (!folder || unknown.length > 0 || !existsSync(join(folder, 'score.py'))) {
  console.error('usage: npm run bench:accuracy DIR [-- --kept-back] [--in-process]; DIR holds score.py and the sets');
  process.exit(2);
}
const directory = resolve(folder);
const scratch = mkdtempSync(join(tmpdir(), 'nightjar-accuracy-'));
const { measure, close } = await openMeasurer(flags.includes('--in-process'));
try {
  const rows = [];
  for (const set of setsOf(directory)) rows.push(scoreSet(directory, set, (await classifySet(directory, set, measure)).report, scratch));
  const bars = barsOf(rows, flags.includes('--kept-back'));
  console.log(`${perSetText(rows)}\n\n${barsText(bars)}`);
  const notes = rows.flatMap((row) => row.notes.map((note) => `${row.set}: ${note}`));
  if (notes.length > 0) console.log(`\nEach by name (score.py -v; places in stage um):\n${notes.join('\n')}`);
  process.exitCode = rows.length > 0 && bars.every(({ met }) => met !== false) ? 0 : 1;
} finally {
  await close();
  rmSync(scratch, { recursive: true });
}
