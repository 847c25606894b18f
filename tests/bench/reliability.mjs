// Whether probabilities mean what they say, and what dirt is taken for a flake: on simulated frame sets with known truth, whose optics,
// index tables and dirt are the simulator's own.
// usage: node tests/bench/reliability.mjs --seeds N [--from K] [--failures FILE] [--keep DIR] [--in-process]
// Makes sets number K to K + N - 1 (12 kinds, other seeds each round), classifies each with the built classifier, and removes it again
// unless --keep names a folder. Ends with 1 when of the calls at p >= 0.9 fewer than 90 % are right.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { built, classifySet, openMeasurer } from '../acceptance/frameSetScore.mjs';
import { judgeSet } from './reliabilityJudge.mjs';
import { binsText, failuresText, falseText, LEAST_RIGHT, perSetText, sureRates } from './reliabilityReport.mjs';
import { loadBundle } from '../acceptance/bundle.mjs';

const argument = (name) => (process.argv.includes(name) ? process.argv[process.argv.indexOf(name) + 1] : undefined);
const seeds = Number(argument('--seeds'));
const from = Number(argument('--from') ?? 0);
if (!Number.isInteger(seeds) || seeds < 1 || !Number.isInteger(from) || from < 0) {
  console.error('usage: node tests/bench/reliability.mjs --seeds N [--from K] [--failures FILE] [--keep DIR] [--in-process]');
  process.exit(2);
}

const { makeSet } = await loadBundle('reliabilitySets', new URL('./reliabilitySets.ts', import.meta.url));
const { flakesOf } = await import(built('planner/flakes/book.js'));
const keep = argument('--keep');
const scratch = keep ?? mkdtempSync(join(tmpdir(), 'nightjar-reliability-'));
mkdirSync(scratch, { recursive: true });
const { measure, close } = await openMeasurer(process.argv.includes('--in-process'));
try {
  const judged = [];
  for (let number = from; number < from + seeds; number++) {
    const name = String(number).padStart(3, '0');
    const set = await makeSet(number, join(scratch, name));
    const { book, report } = await classifySet(scratch, name, measure);
    for (const { file, code } of report.problems) console.error(`${set.name}: ${file}: ${code}`);
    judged.push({ ...judgeSet(set, flakesOf(book)), ladder: report.ladder });
    if (!keep) rmSync(join(scratch, name), { recursive: true });
  }
  const { all, thin } = sureRates(judged);
  console.log([perSetText(judged), binsText(judged), falseText(judged)].join('\n\n'));
  const failures = argument('--failures');
  if (failures) writeFileSync(failures, failuresText(judged));
  const met = [all, thin].every((r) => r.right >= LEAST_RIGHT * r.wanted);
  console.log(`\nOf calls at p >= 0.9 at least ${100 * LEAST_RIGHT} % right: ${met ? 'met' : 'NOT MET'}`);
  process.exitCode = met ? 0 : 1;
} finally {
  await close();
  if (!keep) rmSync(scratch, { recursive: true });
}
