// The way back: a chip is scanned, taken off, laid down anew (any rotation, 5 mm, every second time on another instrument), found by two marks,
// recognised by its pictures, and its best flake brought into the middle of the view. Over simulated instruments, in virtual time.
// node tests/acceptance/remounts.mjs [--count 100] [--from 1] [--others 10]
// Ends with 1 when fewer than 95 % end within 5 um of the middle, when marks alone are ever more than 30 um off, or when another chip is not
// recognised as one.
import { loadBundle } from './bundle.mjs';

const argument = (name, usual) => (process.argv.includes(name) ? Number(process.argv[process.argv.indexOf(name) + 1]) : usual);
const count = argument('--count', 100);
const from = argument('--from', 1);
const others = argument('--others', Math.max(2, Math.round(count / 10)));
if (![count, from, others].every(Number.isInteger) || count < 1) {
  console.error('usage: node tests/acceptance/remounts.mjs [--count N] [--from SEED] [--others N]');
  process.exit(2);
}

const { runTrial } = await loadBundle('remountTrial', new URL('./remountTrial.ts', import.meta.url));

const reachUm = 5;
const marksUm = 30;
const um = (value) => value.toFixed(1).padStart(6);
const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN;
const trials = [];
for (let number = from; number < from + count; number++) {
  const trial = await runTrial(number, false);
  trials.push(trial);
  if (trial.outcome !== 'found' || trial.offUm > reachUm) console.log(`${number}: ${trial.outcome} ${um(trial.offUm)} um off, marks ${um(trial.marksOffUm)} um, ${trial.said}`);
}
const found = trials.filter(({ outcome }) => outcome === 'found');
const reached = found.filter(({ offUm }) => offUm <= reachUm);
const marksOff = Math.max(...found.map((trial) => trial.marksOffUm));
console.log(`${reached.length} of ${count} end within ${reachUm} um of the middle of the view (bar: 95 %); median ${um(median(found.map(({ offUm }) => offUm)))} um, most ${um(Math.max(...found.map(({ offUm }) => offUm)))} um`);
console.log(`refused as doubtful ${trials.filter(({ outcome }) => outcome === 'doubtfulMatch').length}, as another chip ${trials.filter(({ outcome }) => outcome === 'notThisChip').length}, failed ${trials.filter(({ outcome }) => outcome === 'failed').length}; driven to a wrong place ${found.length - reached.length}`);
console.log(`by its marks alone the flake is ${um(median(found.map((trial) => trial.marksOffUm)))} um off in the median, ${um(marksOff)} um at most (bar: ${marksUm} um)`);
let strangers = 0;
for (let number = from; number < from + others; number++) {
  const { outcome, said } = await runTrial(number, true);
  if (outcome === 'notThisChip') strangers++;
  else console.log(`another chip, ${number}: ${outcome}, ${said}`);
}
console.log(`another chip in its place was recognised as one in ${strangers} of ${others} (bar: all)`);
if (reached.length < 0.95 * count || !(marksOff <= marksUm) || strangers < others) process.exitCode = 1;
